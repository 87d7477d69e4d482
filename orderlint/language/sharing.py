"""Finds what many conditions have in common, and which of them only look for a flag.

Never says what a condition is on one order.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from orderlint.language.tree import And, Given, Not, Or, Tree, Written

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable


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


def notation_of(tree: Tree) -> tuple[str, str] | None:
    """The leaf and the flag of a condition that is false where the leaf has it, and else true.

    None of any other condition. Most of the conditions of a rulebook are such.
    """
    match tree:
        case Or((Not(Given((path,))), Not(Written(of, flag)))) if of == path:
            return path, flag
    return None
