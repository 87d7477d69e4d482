"""The rulebook as a table, one rule in words, and what a check of its rules found.

Never a rule.
"""
