"""Decides a rule without a solver: options in cells, monotone variables at one end, all the rest.

Never an import of z3, and nothing of `proof.solver`.
"""
