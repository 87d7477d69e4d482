"""The small, closed language that rules are written in, and the three walkers that read it.

Text → surface (syntax) → types → a tree of integer comparisons (lower) → evaluate, solve, sql.
Figures for the words of a finding are in it too.
Never a file, a rule or a sentence.
"""
