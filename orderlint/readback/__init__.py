"""The bedside double check: asks for the settings seen, then compares them with an order.

Never prints or writes anything, and never changes what is ordered or seen.
"""

from orderlint.readback.result import ReadBack as ReadBack
from orderlint.readback.result import read_back as read_back
