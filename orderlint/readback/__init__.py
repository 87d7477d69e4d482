"""What is seen at the bedside, read and compared with an order: data in, findings out.

Never asks, prints or keeps anything, and never changes what is ordered or seen.
"""

from orderlint.readback.read_back import ReadBack as ReadBack
from orderlint.readback.read_back import read_back as read_back
