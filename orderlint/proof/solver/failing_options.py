"""The options and values of one slot with which a rule can go wrong, by the solver.

Never what is to be done about it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.language.solve import value_of
from orderlint.proof.solver.encode import pick_variable
from orderlint.proof.solver.reachable_options import ReachableOptions
from orderlint.proof.solver.search import wanted
from orderlint.proof.space import Disagreement, dependency_closure, leaf_at, paths_in

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

    from orderlint.language.tree import Tree
    from orderlint.order_set.model import Slot, Span
    from orderlint.proof.solver.search import Search
    from orderlint.proof.space import Picks


class FailingOptions:
    """While it is entered, the solver holds that a condition is false or unknown."""

    def __init__(self, search: Search, tree: Tree) -> None:
        self.search = search
        self.folded = search.evaluator.simplify(tree)
        self.own = dependency_closure(search.space, paths_in(tree)).slots

    def __enter__(self) -> FailingOptions:
        self.search.solver.push()
        facts = self.search.encoding.facts([self.folded], self.own)
        self.search.solver.add(*facts, wanted(self.folded, "not true"))
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.search.solver.pop()

    def options(
        self, slot: Slot, is_bad: Callable[[Picks], bool], witness: Picks
    ) -> frozenset[int] | None:
        """The options with which it can go wrong; None where the solver does not know of all."""
        reached = ReachableOptions(self.search, slot, is_bad, [witness]).options()
        return None if reached.open else reached.used

    def ends(
        self, slot: Slot, span: Span, is_bad: Callable[[Picks], bool]
    ) -> tuple[int, int] | None:
        """The least and the greatest value of a part of its span with which it can go wrong.

        Just outside that part where none in it can; None where the solver does not know.
        """
        least = self._end(slot, span, is_bad, 1)
        greatest = self._end(slot, span, is_bad, -1)
        return None if least is None or greatest is None else (least, greatest)

    def _end(
        self, slot: Slot, span: Span, is_bad: Callable[[Picks], bool], sign: int
    ) -> int | None:
        """By halving what is left between an end of the span and the nearest bad value known."""
        edge = span.lowest if sign > 0 else span.highest
        far = sign * (value_of(slot.path) - edge)
        near, found, bound = -1, None, span.highest - span.lowest
        most = bound
        while bound > near:
            self.search.solver.push()
            self.search.solver.add(
                pick_variable(slot.path) == len(slot.options), far >= 0, far <= bound
            )
            asked = self.search.check(self.own)
            self.search.solver.pop()
            if asked.picks is not None:
                found = sign * (_bad_value(slot, asked.picks, is_bad) - edge)
            elif asked.found == "open":
                return None
            elif found is None:
                return edge + sign * (most + 1)
            else:
                near = bound
            bound = (near + found) // 2
        return None if found is None else edge + sign * found


def _bad_value(slot: Slot, picks: Picks, is_bad: Callable[[Picks], bool]) -> int:
    value = leaf_at(slot, picks.chosen[slot.path]).value
    if not isinstance(value, int) or not is_bad(picks):
        raise Disagreement(slot.path, "a value breaks it", "and by its meaning it does not")
    return value
