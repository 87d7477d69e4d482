"""A Bundle read into an order, and an order written as one.

Never a verdict: the order's own reader and rules judge what is read.
"""
