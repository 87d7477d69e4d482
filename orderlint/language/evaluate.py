"""Evaluates a condition on one order. This defines what a condition means.

The logic is Kleene's strong three-valued logic; unknown is None. No solver and no database.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

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
    from collections.abc import Iterable, Mapping

    from orderlint.language.tree import Subject, Tree
    from orderlint.order import Leaf

    Leaves = Mapping[str, Leaf]


def evaluate(tree: Tree, leaves: Leaves) -> bool | None:
    """True, False, or None if the outcome depends on a leaf that is absent or unreadable."""
    match tree:
        case Given(paths):
            return any(leaves[path].given for path in paths)
        case Written(path, flag):
            return flag in leaves[path].flags if leaves[path].given else None
        case Names(path, listed):
            return names_one(leaves[path].text, listed) if leaves[path].has_words else None
        case Compare():
            return _compare(tree, leaves)
        case Multiple(path, step):
            value = _ticks(path, leaves)
            return None if value is None else value % step == 0
        case Member(subject, among):
            choice = _choice(subject, leaves)
            return None if choice is None else choice in among
        case Same(left, right):
            ours, theirs = _choice(left, leaves), _choice(right, leaves)
            return None if ours is None or theirs is None else ours == theirs
        case Not(item):
            return _negated(evaluate(item, leaves))
        case And(items):
            return _all(evaluate(item, leaves) for item in items)
        case Or(items):
            return _negated(_all(_negated(evaluate(item, leaves)) for item in items))
        case _:
            assert_never(tree)


def _negated(truth: bool | None) -> bool | None:
    return None if truth is None else not truth


def _all(truths: Iterable[bool | None]) -> bool | None:
    unknown = False
    for truth in truths:
        if truth is False:
            return False
        unknown = unknown or truth is None
    return None if unknown else True


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
    if evaluate(tree, leaves) is not None:
        return ()
    match tree:
        case Not(item):
            return missing(item, leaves)
        case And(items) | Or(items):
            found = [path for item in items for path in missing(item, leaves)]
            return tuple(dict.fromkeys(found))
        case Names(path):
            return (path,)
        case Compare(one_kind=OneKind(paths)) if all(leaves[p].known for p in paths_of(tree)):
            return paths
        case _:
            lacking = [path for path in paths_of(tree) if not leaves[path].known]
            return tuple(dict.fromkeys(lacking))
