"""The report for an order set's author: proofs, orders that break rules, and what to narrow.

Never proves.
"""
