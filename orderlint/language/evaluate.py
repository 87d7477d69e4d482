"""Evaluates a condition on one order. This defines what a condition means.

The logic is Kleene's strong three-valued logic; unknown is None. No solver and no database.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from orderlint.language.naming import names_one
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
    Written,
    paths_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from orderlint.language.tree import Atom, Subject, Tree
    from orderlint.order import Leaf

    Leaves = Mapping[str, Leaf]


def evaluate(tree: Tree, leaves: Leaves) -> bool | None:
    """True, False, or None if the outcome depends on a leaf that is absent or unreadable."""
    return _MEANINGS[type(tree)](tree, leaves)


def _given(tree: Given, leaves: Leaves) -> bool:
    for path in tree.paths:  # noqa: SIM110 - with `any`, a check takes half as long again
        if leaves[path].given:
            return True
    return False


def _written(tree: Written, leaves: Leaves) -> bool | None:
    leaf = leaves[tree.path]
    return tree.flag in leaf.flags if leaf.given else None


def _names(tree: Names, leaves: Leaves) -> bool | None:
    leaf = leaves[tree.path]
    return names_one(leaf.text, tree.listed) if leaf.has_words else None


def _compare(compare: Compare, leaves: Leaves) -> bool | None:
    if compare.one_kind is not None and not _of_one_kind(compare.one_kind, leaves):
        return None
    total = 0
    for term in compare.terms:
        product = term.coefficient
        for path in term.paths:
            value = _ticks(path, leaves)
            if value is None:
                return None
            product *= value
        total += product
    if compare.sign == "<":
        return total < compare.bound
    if compare.sign == "<=":
        return total <= compare.bound
    return total == compare.bound


def _of_one_kind(one_kind: OneKind, leaves: Leaves) -> bool:
    units = {leaves[path].unit for path in one_kind.paths}
    return any(units <= {*kind} for kind in one_kind.kinds)


def _multiple(tree: Multiple, leaves: Leaves) -> bool | None:
    value = _ticks(tree.path, leaves)
    return None if value is None else value % tree.step == 0


def _member(tree: Member, leaves: Leaves) -> bool | None:
    choice = _choice(tree.subject, leaves)
    return None if choice is None else choice in tree.among


def _same(tree: Same, leaves: Leaves) -> bool | None:
    ours, theirs = _choice(tree.left, leaves), _choice(tree.right, leaves)
    return None if ours is None or theirs is None else ours == theirs


def _not(tree: Not, leaves: Leaves) -> bool | None:
    truth = evaluate(tree.item, leaves)
    return None if truth is None else not truth


def _and(tree: And, leaves: Leaves) -> bool | None:
    outcome: bool | None = True
    for item in tree.items:
        truth = evaluate(item, leaves)
        if truth is False:
            return False
        outcome = None if truth is None else outcome
    return outcome


def _or(tree: Or, leaves: Leaves) -> bool | None:
    outcome: bool | None = False
    for item in tree.items:
        truth = evaluate(item, leaves)
        if truth is True:
            return True
        outcome = None if truth is None else outcome
    return outcome


# By type: a check comes to thousands of nodes, and `match` asks each what it is not.
_MEANINGS: Mapping[type[Tree], Callable[[Any, Leaves], bool | None]] = {
    Given: _given,
    Written: _written,
    Names: _names,
    Compare: _compare,
    Multiple: _multiple,
    Member: _member,
    Same: _same,
    Not: _not,
    And: _and,
    Or: _or,
}


def _ticks(path: str, leaves: Leaves) -> int | None:
    value = leaves[path].value
    return value if isinstance(value, int) else None


def _choice(subject: Subject, leaves: Leaves) -> str | None:
    leaf = leaves[subject.path]
    if subject.is_unit:
        return leaf.unit if leaf.known else None
    return leaf.value if isinstance(leaf.value, str) else None


def missing(tree: Tree, leaves: Leaves) -> tuple[str, ...]:
    """The absent or unreadable leaves that make the tree unknown; none if it is known."""
    return tuple(dict.fromkeys(_with_missing(tree, leaves)[1]))


def _with_missing(tree: Tree, leaves: Leaves) -> tuple[bool | None, list[str]]:
    """What a tree is, and where that is unknown, the leaves that make it so."""
    if isinstance(tree, Not):
        truth, lacking = _with_missing(tree.item, leaves)
        return (None if truth is None else not truth), lacking
    if not isinstance(tree, And | Or):
        truth = evaluate(tree, leaves)
        return truth, _missing_in(tree, leaves) if truth is None else []
    decided = isinstance(tree, Or)
    unknown: list[str] = []
    is_open = False
    for item in tree.items:
        truth, lacking = _with_missing(item, leaves)
        if truth is decided:
            return decided, []
        if truth is None:
            is_open = True
            unknown += lacking
    return (None if is_open else not decided), unknown


def _missing_in(atom: Atom, leaves: Leaves) -> list[str]:
    match atom:
        case Names(path):
            return [path]
        case Compare(one_kind=OneKind(paths)) if all(leaves[p].known for p in paths_of(atom)):
            return [*paths]
        case _:
            return [path for path in paths_of(atom) if not leaves[path].known]
