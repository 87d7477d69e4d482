"""Proofs over every order that a set can yield: each rule proved, or the order that breaks it.

Joins the rulebook's conditions and a set's options. Never a file, never a word of a report.
"""
