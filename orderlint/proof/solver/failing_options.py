"""Finds, with z3, which options and values of a slot can violate a rule.

Never what is to be done about it.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.language.to_z3 import value_of
from orderlint.proof.search_space import Disagreement, dependency_closure, leaf_at, paths_in
from orderlint.proof.solver.encode import pick_variable
from orderlint.proof.solver.reachable_options import ReachableOptions
from orderlint.proof.solver.search import least, wanted
from orderlint.proof.thresholds import turning_points

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from contextlib import AbstractContextManager

    from orderlint.language.tree import Tree
    from orderlint.order_set.model import Slot, Span
    from orderlint.proof.search_space import Picks
    from orderlint.proof.solver.search import Search


class Undecided(Exception):  # noqa: N818 - no mistake, but a question left open
    """The solver gave no answer within its limits."""


class FailingOptions:
    """What of a slot makes a condition false or unknown; asked while `holding` is entered."""

    def __init__(self, search: Search, tree: Tree) -> None:
        self.search = search
        self.tree = tree
        self.folded = search.evaluator.simplify(tree)
        self.own = dependency_closure(search.space.order_set, paths_in(tree))

    def holding(self) -> AbstractContextManager[None]:
        """The solver holds that the condition is false or unknown."""
        facts = self.search.encoding.facts([self.folded], self.own.slots)
        return self.search.holding(*facts, wanted(self.folded, "not true"))

    def options(
        self, slot: Slot, is_bad: Callable[[Picks], bool], known: Sequence[Picks]
    ) -> set[int] | None:
        """The options with which it can go wrong; None where the solver does not know of all."""
        reached = ReachableOptions(self.search, slot, is_bad, [*known]).settle()
        return None if reached.open else reached.used

    def good_spans(
        self, slot: Slot, span: Span, is_bad: Callable[[Picks], bool]
    ) -> list[Span] | None:
        """The parts of a span with which it cannot go wrong; None where the solver does not know.

        That below the least value that is bad, that above the greatest, and those between them, as
        far as these begin and end where a comparison turns.
        """
        if span.lowest > span.highest:
            return []
        try:
            low, high = self._end(slot, span, is_bad, 1), self._end(slot, span, is_bad, -1)
            if low > span.highest:
                return [span]
            between = list(self._between(slot, low, high, is_bad))
        except Undecided:
            return None
        ends = [(span.lowest, low - 1), *between, (high + 1, span.highest)]
        return [replace(span, lowest=a, highest=b) for a, b in ends if a <= b]

    def _between(
        self, slot: Slot, low: int, high: int, is_bad: Callable[[Picks], bool]
    ) -> Iterator[tuple[int, int]]:
        """The ranges between two bad values in which none is bad."""
        starts = turning_points(self.own, self.tree, slot.path, low, high)
        parts = itertools.pairwise([low, *starts, high + 1])
        tried = ((a, b - 1, self._has_bad(slot, a, b - 1, is_bad)) for a, b in parts)
        for has_bad, group in itertools.groupby(tried, key=lambda part: part[2]):
            ends = list(group)
            if not has_bad:
                yield ends[0][0], ends[-1][1]

    def _has_bad(self, slot: Slot, low: int, high: int, is_bad: Callable[[Picks], bool]) -> bool:
        value = value_of(slot.path)
        picked = pick_variable(slot.path) == len(slot.options)
        with self.search.holding(picked, value >= low, value <= high):
            asked = self.search.check()
        if asked.found == "open":
            raise Undecided
        if asked.picks is not None:
            _bad_value(slot, asked.picks, is_bad)
        return asked.picks is not None

    def _end(self, slot: Slot, span: Span, is_bad: Callable[[Picks], bool], sign: int) -> int:
        """The bad value nearest to an end of the span, or the value after the other end."""
        edge, width = span.lowest if sign > 0 else span.highest, span.highest - span.lowest
        far = sign * (value_of(slot.path) - edge)

        def ask(bound: int) -> int | None:
            picked = pick_variable(slot.path) == len(slot.options)
            with self.search.holding(picked, far >= 0, far <= bound):
                asked = self.search.check()
            if asked.found == "open":
                raise Undecided
            return sign * (_bad_value(slot, asked.picks, is_bad) - edge) if asked.picks else None

        found = least(ask, width)
        return edge + sign * (width + 1 if found is None else found)


def _bad_value(slot: Slot, picks: Picks, is_bad: Callable[[Picks], bool]) -> int:
    value = leaf_at(slot, picks.chosen[slot.path]).value
    if not isinstance(value, int) or not is_bad(picks):
        raise Disagreement(slot.path, "a value breaks it", "and by its meaning it does not")
    return value
