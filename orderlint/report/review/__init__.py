"""What a set's author reads: proofs, the orders that break rules, and what to narrow.

Never proves.
"""
