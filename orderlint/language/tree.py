"""The lowered tree that every walker reads: comparisons of integers, joined by and, or, not.

Frozen data only. Each walker has its cases in the order of these classes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass(frozen=True, slots=True)
class Given:
    """Whether any of these leaves is written. Never unknown."""

    paths: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Written:
    """Whether the text of a leaf has a notation flag. Unknown only where nothing is written."""

    path: str
    flag: str


@dataclass(frozen=True, slots=True)
class Term:
    """`coefficient` times the product of one leaf or two, in ticks."""

    coefficient: int
    paths: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Compare:
    """Sum of terms, sign, bound: all integers that fit in 62 bits at every step."""

    terms: tuple[Term, ...]
    sign: Literal["<", "<=", "=="]
    bound: int


@dataclass(frozen=True, slots=True)
class Multiple:
    """Whether a leaf is a whole multiple of `step` ticks."""

    path: str
    step: int


@dataclass(frozen=True, slots=True)
class Subject:
    """A choice that can be compared: a leaf's value, or the unit it was written in."""

    path: str
    is_unit: bool = False


@dataclass(frozen=True, slots=True)
class Member:
    """Whether a choice is one of these."""

    subject: Subject
    among: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Same:
    """Whether two choices are the same."""

    left: Subject
    right: Subject


@dataclass(frozen=True, slots=True)
class Not:
    """Negation."""

    item: Tree


@dataclass(frozen=True, slots=True)
class And:
    """True when all are, false when any is false, else unknown."""

    items: tuple[Tree, ...]


@dataclass(frozen=True, slots=True)
class Or:
    """True when any is, false when all are false, else unknown."""

    items: tuple[Tree, ...]


Atom: TypeAlias = Given | Written | Compare | Multiple | Member | Same
Tree: TypeAlias = Atom | Not | And | Or


def atoms(tree: Tree) -> Iterator[Atom]:
    """Every atom of the tree, from left to right."""
    match tree:
        case Not(item):
            yield from atoms(item)
        case And(items) | Or(items):
            for item in items:
                yield from atoms(item)
        case _:
            yield tree


def paths_of(atom: Atom) -> tuple[str, ...]:
    """The leaves an atom reads."""
    match atom:
        case Given(paths):
            return paths
        case Written(path) | Multiple(path):
            return (path,)
        case Compare(terms):
            return tuple(path for term in terms for path in term.paths)
        case Member(subject):
            return (subject.path,)
        case Same(left, right):
            return (left.path, right.path)
