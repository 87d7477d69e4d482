"""The small, closed language that rules are written in, and the three walkers that read it.

Text → surface (syntax) → types → a tree of integer comparisons (lower) → evaluate, solve, sql.
Never a file, a rule or a word of a finding.
"""
