"""Translates a condition for z3 into two formulas: it is true, and it is false.

The cases stand in the same order as in evaluate.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TYPE_CHECKING, assert_never

import z3

from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    Or,
    Same,
    Written,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.field import Field
    from orderlint.language.tree import Atom, OneKind, Subject, Term, Tree


_KEPT = 4_096
"""The atoms of which the formulas are kept: z3 takes far longer to make them again."""


@dataclass(frozen=True, slots=True)
class Pair:
    """When a condition is true, and when it is false; it is unknown where neither formula holds."""

    true: z3.BoolRef
    false: z3.BoolRef


def solve(tree: Tree) -> Pair:
    """The formulas of a tree, over the variables that the functions below name."""
    match tree:
        case Not(item):
            inner = solve(item)
            return Pair(inner.false, inner.true)
        case And(items):
            pairs = [solve(item) for item in items]
            return Pair(z3.And([p.true for p in pairs]), z3.Or([p.false for p in pairs]))
        case Or(items):
            pairs = [solve(item) for item in items]
            return Pair(z3.Or([p.true for p in pairs]), z3.And([p.false for p in pairs]))
        case _:
            return _of_atom(tree)


@functools.lru_cache(_KEPT)
def _of_atom(atom: Atom) -> Pair:
    match atom:
        case Given(paths):
            given = z3.Or([given_of(path) for path in paths])
            return Pair(given, z3.Not(given))
        case Written(path, flag):
            return _when(given_of(path), flag_of(path, flag))
        case Names(path, listed):
            return _when(has_words_of(path), named_of(path, listed))
        case Compare(terms, sign, bound, one_kind):
            total = z3.Sum([_term(term) for term in terms])  # of nothing, 0
            holds = {"<": total < bound, "<=": total <= bound, "==": total == bound}[sign]
            known = _known([path for term in terms for path in term.paths])
            return _when(z3.And(known, _of_one_kind(one_kind)) if one_kind else known, holds)
        case Multiple(path, step):
            return _when(known_of(path), value_of(path) % step == 0)
        case Member(subject, among):
            chosen = z3.Or([_choice(subject) == choice_code(word) for word in among])
            return _when(known_of(subject.path), chosen)
        case Same(left, right):
            return _when(_known([left.path, right.path]), _choice(left) == _choice(right))
        case _:
            assert_never(atom)


def _when(known: z3.BoolRef, holds: z3.BoolRef) -> Pair:
    return Pair(z3.And(known, holds), z3.And(known, z3.Not(holds)))


def _known(paths: list[str]) -> z3.BoolRef:
    return z3.And([known_of(path) for path in paths])


def _of_one_kind(one_kind: OneKind) -> z3.BoolRef:
    return z3.Or([z3.And([_in(path, kind) for path in one_kind.paths]) for kind in one_kind.kinds])


def _in(path: str, units: tuple[str, ...]) -> z3.BoolRef:
    return z3.Or([unit_of(path) == choice_code(unit) for unit in units])


def _term(term: Term) -> z3.ArithRef:
    product: z3.ArithRef = z3.IntVal(term.coefficient)
    for path in term.paths:
        product = product * value_of(path)
    return product


def _choice(subject: Subject) -> z3.ArithRef:
    return unit_of(subject.path) if subject.is_unit else value_of(subject.path)


def choice_code(word: str) -> z3.IntNumRef:
    """The integer that stands for a choice. INVARIANT: two choices differ in their bytes."""
    return z3.IntVal(int.from_bytes(word.encode()))


def given_of(path: str) -> z3.BoolRef:
    """Whether the leaf is written."""
    return z3.Bool(f"{path} given")


def known_of(path: str) -> z3.BoolRef:
    """Whether the leaf has a value."""
    return z3.Bool(f"{path} known")


def value_of(path: str) -> z3.ArithRef:
    """The leaf's ticks, or its choice's code."""
    return z3.Int(path)


def unit_of(path: str) -> z3.ArithRef:
    """The code of the unit that the leaf is written in."""
    return z3.Int(f"{path} unit")


def flag_of(path: str, flag: str) -> z3.BoolRef:
    """Whether the leaf's text has a notation flag."""
    return z3.Bool(f"{path} written {flag}")


def has_words_of(path: str) -> z3.BoolRef:
    """Whether the leaf has a text to look at."""
    return z3.Bool(f"{path} words")


def named_of(path: str, listed: tuple[str, ...]) -> z3.BoolRef:
    """Whether the leaf's text names an entry of a list."""
    return z3.Bool(f"{path} names {', '.join(listed)}")


def well_formed(field: Field) -> Iterator[z3.BoolRef]:
    """The facts that hold for a leaf of this field on every order."""
    path = field.path
    yield z3.Implies(known_of(path), given_of(path))
    yield z3.Implies(has_words_of(path), given_of(path))
    if field.kind in {"quantity", "instant", "count"}:
        yield z3.And(value_of(path) >= field.lowest, value_of(path) <= field.highest)
    if field.kind == "quantity":
        yield z3.Or([unit_of(path) == choice_code(unit) for unit in field.decimals])
    if field.kind == "choice":
        yield z3.Or([value_of(path) == choice_code(choice) for choice in field.choices])
