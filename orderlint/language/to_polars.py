"""Translates a condition into a polars expression over a frame with the columns named here.

The cases stand in the same order as in evaluate; unknown is null, and polars joins truths as
Kleene's logic does. Reads no file.
"""

from __future__ import annotations

import functools
import operator
from typing import TYPE_CHECKING, assert_never

import polars as pl

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
    from orderlint.language.tree import OneKind, Subject, Term, Tree


def expression(tree: Tree) -> pl.Expr:
    """The tree as an expression: true, false or null for each row."""
    match tree:
        case Given(paths):
            return _any([pl.col(given_of(path)) for path in paths])
        case Written(path, flag):
            return pl.col(flag_of(path, flag))
        case Names(path, listed):
            return pl.col(named_of(path, listed))
        case Compare(terms, sign, bound, one_kind):
            compared = _compared(_sum(terms), sign, bound)
            if one_kind is not None:
                return pl.when(_of_one_kind(one_kind)).then(compared)
            return compared
        case Multiple(path, step):
            return pl.col(value_of(path)) % step == 0
        case Member(subject, among):
            return _choice(subject).is_in([*among])
        case Same(left, right):
            return _choice(left) == _choice(right)
        case Not(item):
            return ~expression(item)
        case And(items):
            return _all([expression(item) for item in items])
        case Or(items):
            return _any([expression(item) for item in items])
        case _:
            assert_never(tree)


def _all(conditions: list[pl.Expr]) -> pl.Expr:
    return functools.reduce(operator.and_, conditions, pl.lit(value=True))


def _any(conditions: list[pl.Expr]) -> pl.Expr:
    return functools.reduce(operator.or_, conditions, pl.lit(value=False))


def _sum(terms: tuple[Term, ...]) -> pl.Expr:
    # INVARIANT: every sum and product fits in 62 bits, as lowering has seen to.
    total = pl.lit(0, pl.Int64)
    for coefficient, paths in terms:
        product = pl.lit(coefficient, pl.Int64)
        for path in paths:
            product *= pl.col(value_of(path))
        total += product
    return total


def _compared(total: pl.Expr, sign: str, bound: int) -> pl.Expr:
    end = pl.lit(bound, pl.Int64)
    return {"<": total < end, "<=": total <= end, "==": total == end}[sign]


def _of_one_kind(one_kind: OneKind) -> pl.Expr:
    return _any(
        [
            _all(
                [
                    pl.col(unit_of(path)).is_in([*kind]).fill_null(value=False)
                    for path in one_kind.paths
                ]
            )
            for kind in one_kind.kinds
        ]
    )


def _choice(subject: Subject) -> pl.Expr:
    return pl.col(unit_of(subject.path) if subject.is_unit else value_of(subject.path))


def given_of(path: str) -> str:
    """Column, Boolean without nulls: whether the leaf is written."""
    return f"{path} given"


def value_of(path: str) -> str:
    """Column, Int64 ticks or String choice; null unless known."""
    return path


def unit_of(path: str) -> str:
    """Column, String: the unit written; null unless known."""
    return f"{path} unit"


def flag_of(path: str, flag: str) -> str:
    """Column, Boolean: whether the text has a notation flag; null where nothing is written."""
    return f"{path} written {flag}"


def named_of(path: str, listed: tuple[str, ...]) -> str:
    """Column, Boolean: whether the text names an entry of a list; null where there is no text."""
    return f"{path} names {', '.join(listed)}"
