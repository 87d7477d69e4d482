"""What is seen at the bedside: what to ask for next, and what is found beside an order.

Data in, data out: never prints or writes anything, and never changes what is ordered or seen.
"""

from orderlint.readback.result import ReadBack as ReadBack
from orderlint.readback.result import read_back as read_back
