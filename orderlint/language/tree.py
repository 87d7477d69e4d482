"""The lowered tree, which the walkers read: comparisons of integers, and, or, not.

Each walker has its cases in the order of these classes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias, assert_never

if TYPE_CHECKING:
    from collections.abc import Iterator


class Given(NamedTuple):
    """Whether any of these leaves is written. Never unknown."""

    paths: tuple[str, ...]


class Written(NamedTuple):
    """Whether the text of a leaf has a notation flag. Unknown only where nothing is written."""

    path: str
    flag: str


class Names(NamedTuple):
    """Whether the text of a leaf names an entry of a list, as `naming.names_one` reads it.

    Unknown where there is no text to look at: nothing is written, or it is still to be written.
    """

    path: str
    listed: tuple[str, ...]


class Term(NamedTuple):
    """`coefficient` times the product of one leaf or two, in ticks."""

    coefficient: int
    paths: tuple[str, ...]


class OneKind(NamedTuple):
    """Leaves whose units measure one of several things, and the units of each of those.

    Their numbers may stand beside one another only where all of them are in units of one kind.
    """

    paths: tuple[str, ...]
    kinds: tuple[tuple[str, ...], ...]


class Compare(NamedTuple):
    """Sum of terms, sign, bound: all integers that fit in 62 bits at every step.

    Unknown where leaves that are to be of one kind are not.
    """

    terms: tuple[Term, ...]
    sign: Literal["<", "<=", "=="]
    bound: int
    one_kind: OneKind | None = None


class Multiple(NamedTuple):
    """Whether a leaf is a whole multiple of `step` ticks."""

    path: str
    step: int


class Subject(NamedTuple):
    """A choice that can be compared: a leaf's value, or the unit it was written in."""

    path: str
    is_unit: bool = False


class Member(NamedTuple):
    """Whether a choice is one of these."""

    subject: Subject
    among: tuple[str, ...]


class Same(NamedTuple):
    """Whether two choices are the same."""

    left: Subject
    right: Subject


class Not(NamedTuple):
    """Negation."""

    item: Tree


class And(NamedTuple):
    """True when all are, false when any is false, else unknown."""

    items: tuple[Tree, ...]


class Or(NamedTuple):
    """True when any is, false when all are false, else unknown."""

    items: tuple[Tree, ...]


Atom: TypeAlias = Given | Written | Names | Compare | Multiple | Member | Same
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


def paths_in(*trees: Tree) -> tuple[str, ...]:
    """The leaves that some trees read, each once, in the order met."""
    found = (path for tree in trees for atom in atoms(tree) for path in paths_of(atom))
    return tuple(dict.fromkeys(found))


def paths_of(atom: Atom) -> tuple[str, ...]:
    """The leaves an atom reads."""
    match atom:
        case Given(paths):
            return paths
        case Written(path) | Names(path) | Multiple(path):
            return (path,)
        case Compare(terms):
            return tuple(path for term in terms for path in term.paths)
        case Member(subject):
            return (subject.path,)
        case Same(left, right):
            return (left.path, right.path)
        case _:
            assert_never(atom)
