"""Which options of a slot some order uses on which a condition holds, and which values fail one.

Orders that are known are changed at that slot first; the solver is asked for the rest. Never what
is to be done about it.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

from orderlint.language.evaluate import evaluate
from orderlint.language.to_z3 import value_of
from orderlint.proof.search_space import Disagreement, Picks, SlotChoice, leaf_at, leaves_of
from orderlint.proof.solver.encode import among, pick_variable
from orderlint.proof.solver.search import Search, least, wanted
from orderlint.proof.turning_points import turning_points

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import z3

    from orderlint.language.tree import Tree
    from orderlint.order_set.model import OrderSet, Slot, Span


TRIED = 3
"""How many of the orders found last are changed before the solver is asked."""


@dataclass(frozen=True, slots=True)
class ReachableOptions:
    """A search at one slot for the orders on which a condition holds.

    The caller has told the solver the condition; `holds` is its meaning. `known` are orders on
    which it holds, and grows; `most` is the effort, as the search counts it, at which to give up.
    Options by index: those that such an order uses are `used`, those that none uses `never`.
    """

    search: Search
    slot: Slot
    holds: Callable[[Picks], bool]
    known: list[Picks]
    most: int | None = None
    used: set[int] = field(default_factory=set)
    never: set[int] = field(default_factory=set)
    open: set[int] = field(default_factory=set)

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


class _Undecided(Exception):  # noqa: N818 - no mistake, but a question left open
    """The solver gave no answer within its limits."""


_AskBad: TypeAlias = "Callable[..., int | None]"
"""Of some facts: a value in a blank that makes a condition false or unknown; None if none does."""


def good_choices(
    search: Search, tree: Tree, own: OrderSet, slot: Slot, known: Sequence[Picks]
) -> tuple[list[int], list[Span]] | None:
    """The options of a slot, and the parts of its span, with which a condition is always true.

    `own` is the part of the set on which `tree` depends, `known` are orders on which it is not
    true. None where the solver does not know of all.
    """

    def breaks(picks: Picks) -> bool:
        return evaluate(tree, leaves_of(own, picks)) is not True

    folded = search.evaluator.simplify(tree)
    with search.holding(*search.encoding.facts([folded], own.slots), wanted(folded, "not true")):
        reached = ReachableOptions(search, slot, breaks, [*known]).settle()
        if reached.open:
            return None
        good = [index for index in range(len(slot.options)) if index not in reached.used]
        ask = functools.partial(_bad_value, search, slot, breaks)
        turns = functools.partial(turning_points, own, tree, slot.path)
        try:
            return good, _good_spans(slot, ask, turns)
        except _Undecided:
            return None


def _bad_value(
    search: Search, slot: Slot, breaks: Callable[[Picks], bool], *facts: z3.BoolRef
) -> int | None:
    picked = pick_variable(slot.path) == len(slot.options)
    with search.holding(picked, *facts):
        asked = search.check()
    if asked.found == "open":
        raise _Undecided
    if asked.picks is None:
        return None
    value = leaf_at(slot, asked.picks.chosen[slot.path]).value
    if not isinstance(value, int) or not breaks(asked.picks):
        raise Disagreement(slot.path, "a value breaks it", "and by its meaning it does not")
    return value


def _good_spans(slot: Slot, ask: _AskBad, turns: Callable[[int, int], Sequence[int]]) -> list[Span]:
    """The part of a span below the least value that is bad, that above the greatest, and those
    between them, as far as these begin and end where a comparison turns.
    """
    span, value = slot.span, value_of(slot.path)
    if span is None or span.lowest > span.highest:
        return []
    low, high = _end(span, value, ask, 1), _end(span, value, ask, -1)
    if low > span.highest:
        return [span]
    ends = [(span.lowest, low - 1)]
    parts = itertools.pairwise([low, *turns(low, high), high + 1])
    tried = ((a, b - 1, ask(value >= a, value <= b - 1) is not None) for a, b in parts)
    for has_bad, group in itertools.groupby(tried, key=lambda part: part[2]):
        joined = list(group)
        if not has_bad:
            ends.append((joined[0][0], joined[-1][1]))
    ends.append((high + 1, span.highest))
    return [replace(span, lowest=a, highest=b) for a, b in ends if a <= b]


def _end(span: Span, value: z3.ArithRef, ask: _AskBad, sign: int) -> int:
    """The bad value nearest to an end of the span, or the value after the other end."""
    edge, width = span.lowest if sign > 0 else span.highest, span.highest - span.lowest
    far = sign * (value - edge)

    def ask_within(bound: int) -> int | None:
        found = ask(far >= 0, far <= bound)
        return None if found is None else sign * (found - edge)

    found = least(ask_within, width)
    return edge + sign * (width + 1 if found is None else found)
