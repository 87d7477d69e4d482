"""Partial evaluation of a condition over a set: what is the same on every order becomes constant.

By evaluation alone, so that a solver is asked only about what is left. Never a verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from orderlint.language.evaluate import evaluate
from orderlint.language.tree import And, Atom, Given, Member, Not, Or, Subject, Tree, paths_of
from orderlint.order import Leaf
from orderlint.order_set.model import within

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

    from orderlint.proof.search_space import Space

Outcome = Literal["false", "not true", "true"]

# INVARIANT: these are known by identity. Nodes of a tree are tuples: And(()) equals Or(()).
TRUE: Tree = And(())
FALSE: Tree = Or(())
NOWHERE = ""
"""The path of a leaf that no order has."""
UNKNOWN: Tree = Member(Subject(NOWHERE), ())
"""A condition that no order decides."""


class PartialEvaluator:
    """Conditions folded for one set.

    `hidden` are the paths that are absent on every order, `over` the gates, by number and folded,
    that can hide a path on some orders and not on others.
    """

    def __init__(self, space: Space) -> None:
        self.space = space
        self.hidden: set[str] = set()
        order_set = space.order_set
        self.over: dict[str, list[tuple[int, Tree]]] = {path: [] for path in order_set.slots}
        self.sections_over = {
            path: tuple(section for section in order_set.offered_sections if within(path, section))
            for path in order_set.slots
        }
        self._folded: dict[Atom, Tree] = {}
        self._possible: dict[str, tuple[Leaf, ...]] = {}
        for number, gate in enumerate(order_set.gates):
            covered = {path for path in order_set.slots if within(path, gate.path)}
            tree = self.simplify(gate.tree)
            if tree is FALSE or tree is UNKNOWN:
                self.hidden |= covered
            elif tree is not TRUE:
                for path in covered:
                    self.over[path].append((number, tree))

    def simplify(self, tree: Tree) -> Tree:
        """The tree with TRUE, FALSE and UNKNOWN in place of what is so on every order."""
        match tree:
            case Not(item):
                return _negated(self.simplify(item))
            case And(items):
                return _all([self.simplify(item) for item in items])
            case Or(items):
                return _negated(_all([_negated(self.simplify(item)) for item in items]))
            case _:
                if tree not in self._folded:
                    self._folded[tree] = self._atom(tree)
                return self._folded[tree]

    def can_be_hidden(self, path: str) -> bool:
        """Whether some picks leave the leaf out, whatever stands there."""
        return bool(self.sections_over[path] or self.over[path])

    def _atom(self, atom: Atom) -> Tree:
        paths = tuple(dict.fromkeys(paths_of(atom)))
        if isinstance(atom, Given):
            return self._given(paths)
        if not paths:
            return _constant(evaluate(atom, {}))
        if len(paths) == 1:
            return self._one(atom, paths[0])
        listed = [self._leaves(path) for path in paths if not self._spanned(path)]
        if not all(any(leaf.known for leaf in found) for found in listed):
            return UNKNOWN
        if len(listed) == len(paths) and all(len(found) == 1 for found in listed):
            return _constant(evaluate(atom, {found[0].path: found[0] for found in listed}))
        return atom

    def _given(self, paths: Sequence[str]) -> Tree:
        varying = []
        for path in paths:
            leaves = self._leaves(path)
            given = [leaf.given for leaf in leaves] + [True] * self._spanned(path)
            if all(given):
                return TRUE
            if any(given):
                varying.append(path)
        return Given(tuple(varying)) if varying else FALSE

    def _one(self, atom: Atom, path: str) -> Tree:
        if self._spanned(path):
            return atom
        truths = {evaluate(atom, {path: leaf}) for leaf in self._leaves(path)}
        return _constant(truths.pop()) if len(truths) == 1 else atom

    def _spanned(self, path: str) -> bool:
        return self.space.order_set.slots[path].span is not None and path not in self.hidden

    def _leaves(self, path: str) -> tuple[Leaf, ...]:
        """What may stand there on an order; one of those that differ in writing alone."""
        if path not in self._possible:
            listed: list[Leaf] = []
            if path not in self.hidden:
                listed.extend(self.space.order_set.slots[path].options)
            if path in self.hidden or self.can_be_hidden(path):
                listed.append(Leaf(path))
            found = {_key(leaf): leaf for leaf in listed}
            self._possible[path] = tuple(found.values())
        return self._possible[path]


def _key(leaf: Leaf) -> Hashable:
    """What conditions can see of a leaf; how a number is written they do not."""
    words = "" if isinstance(leaf.value, int) else leaf.text
    return leaf.state, leaf.value, leaf.unit, leaf.flags, words, leaf.to_be_written


def _constant(truth: bool | None) -> Tree:
    return UNKNOWN if truth is None else TRUE if truth else FALSE


def _negated(tree: Tree) -> Tree:
    if tree is TRUE:
        return FALSE
    if tree is FALSE:
        return TRUE
    if isinstance(tree, Not):
        return tree.item
    return UNKNOWN if tree is UNKNOWN else Not(tree)


def _all(items: Sequence[Tree]) -> Tree:
    if any(item is FALSE for item in items):
        return FALSE
    left = tuple(item for item in items if item is not TRUE)
    if all(item is UNKNOWN for item in left):
        return UNKNOWN if left else TRUE
    return left[0] if len(left) == 1 else And(left)


def is_constant(tree: Tree) -> bool:
    """Whether a folded tree is the same on every order."""
    return any(tree is constant for constant in (TRUE, FALSE, UNKNOWN))


def settled_value(tree: Tree) -> bool | None:
    """What a folded tree is where it does not vary. ValueError where it does."""
    if not is_constant(tree):
        raise ValueError("the condition varies")
    return None if tree is UNKNOWN else tree is TRUE


def comes_out(truth: bool | None, outcome: Outcome) -> bool:
    """Whether a condition with this value has the outcome that is asked for."""
    return truth is not True if outcome == "not true" else truth is (outcome == "true")
