"""The language of rules' conditions, and of the figures in findings. Reads no file.

Text → surface tree (syntax) → tree of integer comparisons (lower) → evaluate,
to_z3, to_sql, to_polars, to_python.
"""
