"""Which options of a slot some order uses on which a condition holds.

Orders that are known are changed at that slot first; the solver is asked for the rest.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.proof.search_space import Disagreement
from orderlint.proof.solver.encode import among

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import z3

    from orderlint.order_set.model import Slot
    from orderlint.proof.search_space import Picks, SlotChoice
    from orderlint.proof.solver.search import Search


TRIED = 3
"""How many of the orders found last are changed before the solver is asked."""


class ReachableOptions:
    """A search at one slot for the orders on which a condition holds.

    The caller has told the solver the condition; `holds` is its meaning. `known` are orders on
    which it holds, and grows; `most` is the effort, as the search counts it, at which to give up.
    Options by index: those that such an order uses are `used`, those that none uses `never`.
    """

    def __init__(
        self,
        search: Search,
        slot: Slot,
        holds: Callable[[Picks], bool],
        known: list[Picks],
        most: int | None = None,
    ) -> None:
        self.search, self.slot, self.holds, self.known = search, slot, holds, known
        self.most = most
        self.used: set[int] = set()
        self.never: set[int] = set()
        self.open: set[int] = set()

    def settle(self, assumed: Sequence[z3.BoolRef] = ()) -> ReachableOptions:
        """Settle every option, or leave it `open`."""
        for picks in [*self.known[:1], *self.known[1:][-TRIED:]]:
            self._change(picks)
        self._ask(range(len(self.slot.options)), assumed)
        return self

    def _change(self, picks: Picks) -> None:
        """Try every option that is not known to be used, in an order that is known."""
        path = self.slot.path
        for index in range(len(self.slot.options)):
            if index not in self.used and index not in self.never:
                changed = replace(picks, chosen={**picks.chosen, path: index})
                if self.holds(changed):
                    self.used.add(index)

    def _ask(self, indices: Sequence[int], assumed: Sequence[z3.BoolRef]) -> None:
        """The solver, for those left among these; where it finds one, each half of the rest."""
        left = [index for index in indices if index not in self.used]
        if not left:
            return
        if self.most is not None and self.search.spent > self.most:
            self.open.update(left)
            return
        with self.search.holding(among(self.slot, left)):
            asked = self.search.check(assumed)
        if asked.picks is None:
            (self.never if asked.found == "no" else self.open).update(left)
            return
        if not self.holds(asked.picks):
            raise Disagreement(self.slot.path, "an order uses it", "and by its meaning it does not")
        self.known.append(asked.picks)
        self._change(asked.picks)
        found = asked.picks.chosen[self.slot.path]
        rest = [index for index in left if index not in self.used]
        halves = [rest[: len(rest) // 2], rest[len(rest) // 2 :]]
        # The farther half first: an order found there, changed, mostly settles the nearer one.
        for half in sorted(halves, key=lambda each: -_far(each, found)):
            self._ask(half, assumed)


def _far(indices: Sequence[int], choice: SlotChoice) -> int:
    return max((abs(i - choice) for i in indices), default=0) if isinstance(choice, int) else 0
