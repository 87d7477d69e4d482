"""Decides a rule with z3: partial evaluation of the condition, its encoding, and the search.

The only imports of z3 in a proof. Nothing of `proof.enumeration`.
"""
