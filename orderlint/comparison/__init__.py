"""What was written before beside what is written now: two orders, or two order sets.

Data in, data out: never prints or writes anything, and never says which of the two is right.
"""
