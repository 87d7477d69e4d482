"""Finds what many conditions have in common, and which need a flag to be anything but true.

Never says what a condition is on one order.
"""

from __future__ import annotations

import itertools
from collections import Counter
from typing import TYPE_CHECKING

from orderlint.language.tree import And, Given, Not, Or, Written, atoms

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Mapping, Sequence
    from typing import TypeAlias

    from orderlint.language.tree import Tree

    Truths: TypeAlias = frozenset[bool | None]

MOST_WRITTEN = 3
"""The most leaves that one condition may ask for flags to be looked at case by case."""
_ANY: Truths = frozenset({True, False, None})


class Sharing:
    """Trees in which equal subtrees are one object.

    INVARIANT: every tree that `shared` has returned is kept here, so that no other has its id.
    """

    def __init__(self) -> None:
        self._kept: dict[Hashable, Tree] = {}

    def shared(self, tree: Tree) -> Tree:
        """The tree that means the same, and is the same object for equal trees.

        Nodes are tuples, so that an `And` equals an `Or` of the same: each stands beside its kind.
        """
        match tree:
            case Not(item):
                made = Not(self.shared(item))
                return self._kept.setdefault((Not, id(made.item)), made)
            case And(items) | Or(items):
                each = tuple(map(self.shared, items))
                if len(each) == 1:
                    return each[0]
                key = (type(tree), *map(id, each))
                return self._kept.setdefault(key, type(tree)(each))
            case _:
                return self._kept.setdefault((type(tree), tree), tree)


def uses(trees: Iterable[Tree]) -> Counter[int]:
    """How often each node of shared trees stands in another or by itself, by id.

    What is negated counts in place of its negation.
    """
    found: Counter[int] = Counter()
    waiting = list(trees)
    while waiting:
        tree = waiting.pop()
        while isinstance(tree, Not):
            tree = tree.item
        found[id(tree)] += 1
        if found[id(tree)] == 1 and isinstance(tree, And | Or):
            waiting.extend(tree.items)
    return found


def height(tree: Tree) -> int:
    """The levels of a tree: 0 of an atom; a negation adds none."""
    match tree:
        case Not(item):
            return height(item)
        case And(items) | Or(items):
            return 1 + max(map(height, items), default=0)
        case _:
            return 0


def flagged_paths(tree: Tree) -> tuple[str, ...]:
    """The leaves of which one must have a flag if the condition is to be anything but true.

    Empty where it may be something else without a flag, or asks too many leaves for one.
    """
    paths = tuple(dict.fromkeys(atom.path for atom in atoms(tree) if isinstance(atom, Written)))
    if not 0 < len(paths) <= MOST_WRITTEN:
        return ()
    for given in itertools.product((True, False), repeat=len(paths)):
        if _truths(tree, dict(zip(paths, given, strict=True))) != {True}:
            return ()
    return paths


def _truths(tree: Tree, given: Mapping[str, bool]) -> Truths:
    """What a condition can be where these leaves are given or not, and none has a flag.

    What it asks of other leaves is taken to be anything, and each atom apart from the others.
    """
    match tree:
        case Given(paths) if any(given.get(path) for path in paths):
            return frozenset({True})
        case Given(paths):
            return frozenset({False} if given.keys() >= {*paths} else {True, False})
        case Written(path):
            return frozenset({False if given[path] else None})
        case Not(item):
            return _negated(_truths(item, given))
        case And(items):
            return _negated(_any_of([_negated(_truths(item, given)) for item in items]))
        case Or(items):
            return _any_of([_truths(item, given) for item in items])
        case _:
            return _ANY


def _negated(truths: Truths) -> Truths:
    return frozenset(None if truth is None else not truth for truth in truths)


def _any_of(each: Sequence[Truths]) -> Truths:
    """What an `or` can be: the greatest, in the order false, unknown, true."""
    found: Truths = frozenset({False})
    for truths in each:
        found = frozenset(
            True if True in pair else None if None in pair else False
            for pair in itertools.product(found, truths)
        )
    return found
