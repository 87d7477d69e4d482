"""Conjunctive normal form of a tree: clauses of literals, an atom or its negation each.

The three values make a distributive lattice, so that the clauses mean what the tree means, unknown
included. An atom and its negation may both be unknown, so no clause is dropped for having both.
"""

from __future__ import annotations

from typing import NamedTuple

from orderlint.language.tree import And, Atom, Not, Or, Tree
from orderlint.proof.search_space import TooLarge


class ClauseLiteral(NamedTuple):
    """An atom, or its negation."""

    atom: Atom
    positive: bool


Clause = tuple[ClauseLiteral, ...]


def to_cnf(tree: Tree, most: int) -> tuple[Clause, ...]:
    """Conjunctive normal form: the tree's value is the minimum of its clauses' values.

    False is below unknown, and unknown below true. Raises TooLarge above `most` clauses.
    """
    found = _to_cnf(tree, True, most)
    return tuple(dict.fromkeys(found))


def _to_cnf(tree: Tree, positive: bool, most: int) -> list[Clause]:
    match tree:
        case Not(item):
            return _to_cnf(item, not positive, most)
        case And(items) | Or(items):
            parts = [_to_cnf(item, positive, most) for item in items]
            joined = isinstance(tree, And) == positive
            return [clause for part in parts for clause in part] if joined else _any(parts, most)
        case _:
            return [(ClauseLiteral(tree, positive),)]


def _any(parts: list[list[Clause]], most: int) -> list[Clause]:
    """One clause for each way to take one of each part."""
    made: list[Clause] = [()]
    for part in parts:
        if len(made) * len(part) > most:
            raise TooLarge(f"the condition has more than {most} clauses")
        made = [tuple(dict.fromkeys((*left, *right))) for left in made for right in part]
    return made
