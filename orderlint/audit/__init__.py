"""Judges a table of past orders, each row as `verify` judges that order, and counts.

Joins what is below for many orders at once. Never a word of a report, and no verdict of its own.
"""
