"""What was written before beside what is written now: two orders, or two order sets.

Data in, data out: never prints or writes anything, and never says which of the two is right.
"""

from orderlint.comparing.orders import ComparedOrders as ComparedOrders
from orderlint.comparing.orders import compare_orders as compare_orders
from orderlint.comparing.sets import ComparedSets as ComparedSets
from orderlint.comparing.sets import compare_sets as compare_sets
