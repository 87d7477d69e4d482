"""Finds, with z3, which options and values of a slot can violate a rule.

Never what is to be done about it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.language.to_z3 import value_of
from orderlint.proof.search_space import Disagreement, dependency_closure, leaf_at, paths_in
from orderlint.proof.solver.encode import pick_variable
from orderlint.proof.solver.reachable_options import ReachableOptions
from orderlint.proof.solver.search import least, wanted

if TYPE_CHECKING:
    from collections.abc import Callable
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
        self.folded = search.evaluator.simplify(tree)
        self.own = dependency_closure(search.space.order_set, paths_in(tree)).slots

    def holding(self) -> AbstractContextManager[None]:
        """The solver holds that the condition is false or unknown."""
        facts = self.search.encoding.facts([self.folded], self.own)
        return self.search.holding(*facts, wanted(self.folded, "not true"))

    def options(
        self, slot: Slot, is_bad: Callable[[Picks], bool], witness: Picks
    ) -> set[int] | None:
        """The options with which it can go wrong; None where the solver does not know of all."""
        reached = ReachableOptions(self.search, slot, is_bad, [witness]).settle()
        return None if reached.open else reached.used

    def ends(
        self, slot: Slot, span: Span, is_bad: Callable[[Picks], bool]
    ) -> tuple[int, int] | None:
        """The least and the greatest value of a part of its span with which it can go wrong.

        Just outside that part where none in it can; None where the solver does not know.
        """
        try:
            return self._end(slot, span, is_bad, 1), self._end(slot, span, is_bad, -1)
        except Undecided:
            return None

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
