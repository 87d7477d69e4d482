"""The rulebook as a table, one rule in words, and the check of a policy's own rules.

Never a rule.
"""
