"""The order nearest to a set's presets on which a condition comes out false.

z3 is asked for a nearer one until it says that there is none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import z3

from orderlint.language.to_z3 import choice_code, unit_of, value_of
from orderlint.language.tree import Tree, paths_in
from orderlint.proof.distance import Key, Position, cost, origin, positions, rank
from orderlint.proof.search_space import (
    Disagreement,
    Picks,
    dependency_closure,
    example_of,
    is_open,
    is_variable,
)
from orderlint.proof.solver.encode import pick_variable, section_variable
from orderlint.proof.solver.search import Search, least, wanted

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager

    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet, Slot
    from orderlint.proof.search_space import SlotChoice


class Minimizer:
    """Moves from one order that makes a condition false to the nearest such order.

    `is_least` is whether z3 has answered, each time, that there is no nearer one.
    """

    def __init__(self, search: Search, tree: Tree) -> None:
        self.search = search
        self.tree = tree
        self.own = dependency_closure(search.space.order_set, paths_in(tree))
        self.at = _among(self.own, search.space.base)
        self.is_least = True

    def nearest(self, start: Picks) -> Picks:
        """The nearest order, from one that is known; with presets at all that the condition does
        not depend on.
        """
        self.at = _among(self.own, start)
        with self._holding():
            if self.search.check().found == "no":
                raise Disagreement("a witness", "that there is none", "and there is one")
            self._settle()
        return self._whole()

    def nearest_within(self, most: Key) -> Picks | None:
        """The same of the orders with no more departures and steps than `most`; None if none is."""
        departures, steps = self._departures(), self._steps()
        fewer = z3.And(departures <= most[0], z3.Or(departures < most[0], steps <= most[1]))
        with self._holding():
            if not self._better(fewer):
                return None
            self.search.solver.add(fewer)
            self._settle()
        return self._whole()

    def _holding(self) -> AbstractContextManager[None]:
        """The solver holds that the condition is false."""
        folded = self.search.evaluator.simplify(self.tree)
        facts = self.search.encoding.facts([folded], self.own.slots)
        return self.search.holding(*facts, wanted(folded, "false"))

    def _whole(self) -> Picks:
        base = self.search.space.base
        return Picks({**base.chosen, **self.at.chosen}, {**base.sections_on, **self.at.sections_on})

    def _settle(self) -> None:
        """Settle the parts of the cost, the first of them first."""
        self._settle_number(self._departures(), lambda picks: cost(self.own, picks)[0])
        self._settle_number(self._steps(), lambda picks: cost(self.own, picks)[1])
        for place in positions(self.own):
            departing = self._departing(place)
            if departing is not None:
                self.search.solver.add(departing if self._better(departing) else z3.Not(departing))
        for place in positions(self.own):
            self._settle_rank(place)

    def _better(self, fact: z3.BoolRef) -> bool:
        """Whether there is an order of which a fact holds too; if so, stand there."""
        with self.search.holding(fact):
            asked = self.search.check()
        if asked.picks is not None:
            self.search.replay(self.tree, "false", asked.picks)
            self.at = _among(self.own, asked.picks)
        self.is_least = self.is_least and asked.found != "open"
        return asked.picks is not None

    def _settle_number(self, number: z3.ArithRef, of: Callable[[Picks], int]) -> None:
        """Go to the least number, the next lower asked for first; then let it be no more."""

        def ask(bound: int) -> int | None:
            return of(self.at) if self._better(number <= bound) else None

        least(ask, of(self.at) - 1, of(self.at))
        self.search.solver.add(number <= of(self.at))

    def _settle_rank(self, place: Position) -> None:
        """The first choice at one place, of all that are left; then keep it there."""
        solver = self.search.solver
        if place.is_section:
            taken = section_variable(place.path)
            if self.at.sections_on[place.path]:
                self._better(z3.Not(taken))
            solver.add(taken == self.at.sections_on[place.path])
            return
        slot = self.own.slots[place.path]
        if not is_variable(slot):
            return
        self._settle_number(
            pick_variable(place.path), lambda picks: _index(slot, picks.chosen[place.path])
        )
        if not isinstance(self.at.chosen[place.path], int):
            self._settle_value(slot)

    def _settle_value(self, slot: Slot) -> None:
        """In a span: on a whole step, in the first of its units, the nearest to the example, and of
        two the smaller."""
        if self._rank(slot)[1] == 0 or self._better(_on_step(slot)):
            self.search.solver.add(_on_step(slot))
        self._settle_unit(slot)
        value, example = value_of(slot.path), example_of(slot.path)
        distance = z3.If(value >= example, value - example, example - value)
        self._settle_number(distance, lambda picks: rank(slot, picks.chosen[slot.path])[3])
        self._better(value == example - self._rank(slot)[3])
        self.search.solver.add(value == self._leaf(slot).value)

    def _settle_unit(self, slot: Slot) -> None:
        assert slot.span is not None
        for unit in slot.span.grids:
            written = unit_of(slot.path) == choice_code(unit)
            if unit == (self._leaf(slot).unit or "") or self._better(written):
                self.search.solver.add(written)
                return

    def _rank(self, slot: Slot) -> tuple[int, ...]:
        return rank(slot, self.at.chosen[slot.path])

    def _leaf(self, slot: Slot) -> Leaf:
        """What stands now in the span of a slot."""
        leaf = self.at.chosen[slot.path]
        assert not isinstance(leaf, int)
        return leaf

    def _departing(self, place: Position) -> z3.BoolRef | None:
        if place.is_section:
            return section_variable(place.path) != self.own.offered_sections[place.path].preset
        slot = self.own.slots[place.path]
        if is_open(slot) or not is_variable(slot):
            return None
        return pick_variable(place.path) != slot.preset

    def _departures(self) -> z3.ArithRef:
        found = [self._departing(place) for place in positions(self.own)]
        return z3.Sum([z3.If(each, 1, 0) for each in found if each is not None] or [z3.IntVal(0)])

    def _steps(self) -> z3.ArithRef:
        terms = [z3.IntVal(0)]
        for path, slot in self.own.slots.items():
            if is_variable(slot):
                pick, start = pick_variable(path), origin(slot)
                walked = z3.If(pick >= start, pick - start, start - pick) if start else pick
                spanned_ = slot.span is not None
                terms.append(z3.If(pick == len(slot.options), 0, walked) if spanned_ else walked)
        return z3.Sum(terms)


def _index(slot: Slot, choice: SlotChoice) -> int:
    return choice if isinstance(choice, int) else len(slot.options)


def _on_step(slot: Slot) -> z3.BoolRef:
    """That a value of a span is a whole number of the steps of the unit it is in."""
    assert slot.span is not None
    value, unit = value_of(slot.path), unit_of(slot.path)
    steps = {name: slot.span.steps.get(name, 1) for name in slot.span.grids}
    return z3.Or(
        [z3.And(unit == choice_code(name), value % step == 0) for name, step in steps.items()]
    )


def _among(own: OrderSet, picks: Picks) -> Picks:
    """The picks at what a condition depends on."""
    chosen = {path: picks.chosen[path] for path in own.slots}
    return Picks(chosen, {path: picks.sections_on[path] for path in own.offered_sections})
