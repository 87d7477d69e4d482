"""Finds the minimum value of a condition over a set by monotone enumeration, without a solver.

Within a cell single-leaf atoms are constant; a variable in which every literal of a clause is
monotone in the same direction need only be tried at one end. A corner is one such combination.
On what a condition depends is worked out from the gates here, apart from what the solver knows.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeGuard

from orderlint.language.budget import SPENT, Budget
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Atom, Compare, Term, Tree, atoms, paths_in, paths_of
from orderlint.order_set.model import OrderSet, Slot, within
from orderlint.proof.enumeration.cnf import Clause, ClauseLiteral, to_cnf
from orderlint.proof.enumeration.partition import Cell, Domains, is_unary
from orderlint.proof.search_space import Disagreement, Picks, TooLarge, leaf_at, leaves_of
from orderlint.proof.turning_points import MOST_WAYS, turns_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.proof.search_space import Limits, SlotChoice, Space

    Direction = Literal["any", "low", "high", "all"]


@dataclass(frozen=True, slots=True)
class Axis:
    """The cells of one slot for one clause, and which end of each cell is tried."""

    path: str
    direction: Direction
    cells: tuple[Cell, ...]

    def can_be_listed(self) -> bool:
        """Whether what is to be evaluated are not too many values."""
        return self.direction != "all" or all(cell.every is not None for cell in self.cells)

    def values(self, slot: Slot) -> Iterator[int | str | None]:
        """The value of each that is to be evaluated."""
        return (leaf_at(slot, choice).value for choice in self.choices())

    def choices(self) -> list[SlotChoice]:
        """What is to be evaluated. TooLarge where that cannot be listed."""
        if self.direction != "all":
            return [cell.high if self.direction == "high" else cell.low for cell in self.cells]
        listed: list[SlotChoice] = []
        for cell in self.cells:
            if cell.every is None:
                raise TooLarge(f"{self.path} has too many values to try each")
            listed.extend(cell.every)
        return listed


@dataclass(frozen=True, slots=True)
class TriedClause:
    """One clause: the slots on which it depends, the sections over them, and how many corners."""

    clause: Clause
    axes: tuple[Axis, ...]
    sections: tuple[str, ...]
    corners: int


@dataclass(frozen=True, slots=True)
class Minimum:
    """Minimum value of a condition over all orders of the set (false < unknown < true).

    `witness` is an order on which it is so; None where one leaf alone makes each clause true.
    """

    lowest: bool | None
    witness: Picks | None
    tried: tuple[TriedClause, ...]


def minimum_value(space: Space, tree: Tree, domains: Domains, limits: Limits) -> Minimum:
    """Minimum value of `tree` over all orders. Raises TooLarge where the limits do not allow it."""
    whole = depended_on(space.order_set, atoms(tree))
    lowest: bool | None = True
    witness = None
    tried = []
    left = limits.corners
    for clause in to_cnf(tree, limits.clauses):
        tried.append(_tried_clause(space, clause, domains, left))
        left -= tried[-1].corners
        _spend(limits.budget, tried[-1].corners)
        for picks in _picks_to_try(space, whole, tried[-1]):
            value = evaluate(tree, leaves_of(whole, picks))
            if value is False:
                return Minimum(False, _witness(space, tree, picks, value), tuple(tried))
            if value is None and lowest:
                lowest, witness = None, _witness(space, tree, picks, value)
    return Minimum(lowest, witness, tuple(tried))


def _spend(budget: Budget | None, corners: int) -> None:
    if budget is not None:
        if budget.is_spent or corners * budget.CORNER > budget.left:
            raise TooLarge(SPENT)
        budget.spend(corners * budget.CORNER)


def _witness(space: Space, tree: Tree, picks: Picks, value: bool | None) -> Picks:
    """The picks, and presets elsewhere. Raises Disagreement where the whole order differs."""
    chosen = {**space.base.chosen, **picks.chosen}
    whole = Picks(chosen, {**space.base.sections_on, **picks.sections_on})
    found = evaluate(tree, leaves_of(space.order_set, whole))
    if found is not value:
        raise Disagreement("an order", f"nothing, and a part of it {value}", f"and all {found}")
    return whole


def _tried_clause(space: Space, clause: Clause, domains: Domains, most: int) -> TriedClause:
    own = depended_on(space.order_set, [literal.atom for literal in clause])
    axes = _axes(own, clause, domains)
    sections = tuple(own.offered_sections)
    count = math.prod(len(axis.choices()) for axis in axes) * 2 ** len(sections)
    if count > most:
        raise TooLarge("too many corners would have to be tried")
    return TriedClause(clause, axes, sections, count)


def _picks_to_try(space: Space, whole: OrderSet, tried: TriedClause) -> Iterator[Picks]:
    base = {path: space.base.chosen[path] for path in whole.slots}
    sections_on = {path: space.base.sections_on[path] for path in whole.offered_sections}
    paths = [axis.path for axis in tried.axes]
    for taken in itertools.product((True, False), repeat=len(tried.sections)):
        sections = {**sections_on, **dict(zip(tried.sections, taken, strict=True))}
        for choices in itertools.product(*(axis.choices() for axis in tried.axes)):
            yield Picks({**base, **dict(zip(paths, choices, strict=True))}, sections)


def _axes(own: OrderSet, clause: Clause, domains: Domains) -> tuple[Axis, ...]:
    """The slots on which a clause depends, each in cells, with the direction that fails it."""
    gating = [atom for gate in own.gates for atom in atoms(gate.tree)]
    found = [*(literal.atom for literal in clause), *gating]
    directions = _directions(clause, gating, own.slots)
    made = {
        path: Axis(path, directions.get(path, "any"), domains.cells(slot, found))
        for path, slot in own.slots.items()
    }
    unlisted = [path for path, axis in made.items() if not axis.can_be_listed()]
    if len(unlisted) == 1:
        (path,) = unlisted
        cuts = _split(own.slots, path, found, made)
        cells = domains.cells(own.slots[path], found, cuts)
        made[path] = Axis(path, "all", tuple(cell.one_for_all() for cell in cells))
    return tuple(replace(axis, cells=_open_cells(own, clause, axis)) for axis in made.values())


def _open_cells(own: OrderSet, clause: Clause, axis: Axis) -> tuple[Cell, ...]:
    """The cells in which the clause is not true for the sake of this slot alone."""
    if own.offered_sections or any(within(axis.path, gate.path) for gate in own.gates):
        return axis.cells  # a cell that can be hidden stands for what is absent as well
    slot = own.slots[axis.path]
    return tuple(cell for cell in axis.cells if not _holds(clause, slot, cell))


def _split(
    slots: Mapping[str, Slot], path: str, found: Sequence[Atom], axes: Mapping[str, Axis]
) -> tuple[int, ...]:
    """Where a comparison of a blank turns, whatever is tried elsewhere. Raises TooLarge."""
    compared = [each for each in filter(_compares_several, found) if path in paths_of(each)]
    beside = {
        other: sorted({value for value in axis.values(slots[other]) if isinstance(value, int)})
        for other, axis in axes.items()
        if any(other in paths_of(atom) for atom in compared) and other != path
    }
    ways = max(math.prod(len(beside[p]) for p in {*paths_of(a)} - {path}) for a in compared)
    is_square = any(t.paths.count(path) > 1 for atom in compared for t in atom.terms)
    if is_square or ways > MOST_WAYS:
        raise TooLarge(f"{path} has too many values to try each")
    return tuple(sorted({at for atom in compared for at in turns_of(atom, path, beside)}))


def _holds(clause: Clause, slot: Slot, cell: Cell) -> bool:
    """Whether a literal that reads this slot alone is true throughout a cell, and so the clause."""
    leaf = leaf_at(slot, cell.low)
    return any(
        is_unary(literal.atom)
        and set(paths_of(literal.atom)) == {slot.path}
        and evaluate(literal.atom, {slot.path: leaf}) is literal.positive
        for literal in clause
    )


def _directions(
    clause: Clause, gating: Sequence[Atom], slots: Mapping[str, Slot]
) -> Mapping[str, Direction]:
    """For each number that is compared with another: the end at which the clause fails first."""
    found: dict[str, Direction] = {}
    for literal in clause:
        for term in literal.atom.terms if _compares_several(literal.atom) else ():
            wanted = _failing_direction(literal, term, slots)
            for path in term.paths:
                found[path] = wanted if found.get(path, wanted) == wanted else "all"
    for atom in filter(_compares_several, gating):
        # What decides whether a leaf is shown at all may not be moved.
        found.update(dict.fromkeys(paths_of(atom), "all"))
    return found


def _compares_several(atom: Atom) -> TypeGuard[Compare]:
    """Whether an atom compares the numbers of several leaves."""
    return isinstance(atom, Compare) and not is_unary(atom)


def _failing_direction(literal: ClauseLiteral, term: Term, slots: Mapping[str, Slot]) -> Direction:
    """Where one literal fails first as the numbers of one of its terms move."""
    signless = isinstance(literal.atom, Compare) and literal.atom.sign == "=="
    # INVARIANT: a product moves with each of its factors only where none of them is negative.
    negative = len(term.paths) > 1 and any(_below_zero(slots[path]) for path in term.paths)
    if signless or negative:
        return "all"
    return "high" if (term.coefficient > 0) == literal.positive else "low"


def _below_zero(slot: Slot) -> bool:
    listed = any(isinstance(leaf.value, int) and leaf.value < 0 for leaf in slot.options)
    return listed or (slot.span is not None and slot.span.lowest < 0)


def depended_on(order_set: OrderSet, read: Iterable[Atom]) -> OrderSet:
    """The set with only the slots, sections and gates that can change what these atoms read."""
    waiting = [path for atom in read for path in paths_of(atom)]
    paths: set[str] = set()
    gates: set[int] = set()
    while waiting:
        path = waiting.pop()
        if path not in paths:
            paths.add(path)
            over = {n for n, gate in enumerate(order_set.gates) if within(path, gate.path)} - gates
            waiting.extend(each for n in over for each in paths_in(order_set.gates[n].tree))
            gates |= over
    return replace(
        order_set,
        slots={path: slot for path, slot in order_set.slots.items() if path in paths},
        offered_sections={
            section: order_set.offered_sections[section]
            for path in order_set.slots
            if path in paths
            for section in order_set.offered_sections
            if within(path, section)
        },
        gates=tuple(order_set.gates[n] for n in sorted(gates)),
    )
