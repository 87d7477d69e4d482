"""A condition as it is of an order in which other leaves stand for those that are absent.

Never which leaves those are, and never a rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from orderlint.language.evaluate import evaluate
from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    OneKind,
    Or,
    Same,
    Term,
    Written,
    paths_of,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.tree import Atom, Tree
    from orderlint.order import Leaf

_TRUE, _FALSE = Compare((), "<=", 0), Compare((), "<", 0)


def with_defaults(tree: Tree, defaults: Mapping[str, Leaf]) -> Tree:
    """Return a tree that is on any leaves what `tree` is with `defaults` for the absent ones.

    `defaults` are known leaves by path. The tree keeps its form down to its atoms.
    """
    match tree:
        case Not(item):
            return Not(with_defaults(item, defaults))
        case And(items) | Or(items):
            return type(tree)(tuple(with_defaults(item, defaults) for item in items))
        case Given(paths):
            return _TRUE if any(path in defaults for path in paths) else tree
        case _:
            own = [path for path in dict.fromkeys(paths_of(tree)) if path in defaults]
            return _by_case(tree, own, defaults)


def _by_case(atom: Atom, own: list[str], defaults: Mapping[str, Leaf]) -> Tree:
    """The atom where each of `own` is written, and with its default where it is not."""
    if not own or not paths_of(atom):
        return atom
    path, *rest = own
    given = Given((path,))
    absent = _by_case(_with_value(atom, defaults[path]), rest, defaults)
    return Or((And((given, _by_case(atom, rest, defaults))), And((Not(given), absent))))


def _with_value(atom: Atom, leaf: Leaf) -> Atom:
    """The atom with one of its leaves known to be `leaf`."""
    if {*paths_of(atom)} == {leaf.path}:
        truth = evaluate(atom, {leaf.path: leaf})
        # The leaf is absent wherever this is asked, and there the atom itself is unknown.
        return atom if truth is None else _TRUE if truth else _FALSE
    match atom:
        case Compare():
            return _without_path(atom, leaf)
        case Same(left, right):
            other = right if left.path == leaf.path else left
            value = leaf.unit if (left if other is right else right).is_unit else leaf.value
            return Member(other, (str(value),))
        case Given() | Written() | Names() | Multiple() | Member():  # of one leaf, or no default
            return atom
        case _:
            assert_never(atom)


def _without_path(atom: Compare, leaf: Leaf) -> Compare:
    """The comparison with a value in place of a leaf, each other leaf in one term."""
    one_kind = _with_unit(atom.one_kind, leaf)
    if one_kind is not None and not one_kind.kinds:
        return atom  # of another kind than any that may stand here: unknown, as it is unfilled
    assert isinstance(leaf.value, int)
    sums: dict[tuple[str, ...], int] = {}
    for coefficient, paths in atom.terms:
        kept = tuple(path for path in paths if path != leaf.path)
        worth = coefficient * leaf.value ** (len(paths) - len(kept))
        sums[kept] = sums.get(kept, 0) + worth
    # A term of nothing stays: where its other leaf is unreadable, the sum is unknown.
    rest = tuple(Term(worth, paths) for paths, worth in sums.items() if paths)
    return Compare(rest, atom.sign, atom.bound - sums.get((), 0), one_kind)


def _with_unit(one_kind: OneKind | None, leaf: Leaf) -> OneKind | None:
    """What the units of the other leaves must be, where this one's is known."""
    if one_kind is None or leaf.path not in one_kind.paths:
        return one_kind
    others = tuple(path for path in one_kind.paths if path != leaf.path)
    return OneKind(others, tuple(kind for kind in one_kind.kinds if leaf.unit in kind))
