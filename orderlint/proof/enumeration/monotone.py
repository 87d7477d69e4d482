"""The second way to a proof, without a solver: the whole rule evaluated at its corners.

A clause can only fail where each of its literals does. Within a cell every atom of one leaf stands
still, and a number that moves every literal of the clause the same way fails first at that end.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Compare, atoms, paths_of
from orderlint.order_set.model import within
from orderlint.proof.enumeration.cnf import to_cnf
from orderlint.proof.enumeration.partition import is_unary
from orderlint.proof.space import Picks, TooLarge, dependency_closure, leaf_at, leaves_of, paths_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from typing import Literal

    from orderlint.language.tree import Atom, Term, Tree
    from orderlint.order_set.model import OrderSet, Slot
    from orderlint.proof.enumeration.cnf import Clause, ClauseLiteral
    from orderlint.proof.enumeration.partition import Cell, Domains
    from orderlint.proof.space import Limits, SlotChoice, Space

    Direction = Literal["any", "low", "high", "all"]


@dataclass(frozen=True, slots=True)
class Axis:
    """One slot as a clause sees it: its cells, and what of each cell stands for the rest."""

    path: str
    direction: Direction
    cells: tuple[Cell, ...]

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
    """One clause: the slots on which it depends, the ticks over them, and how many corners."""

    clause: Clause
    sides: tuple[Axis, ...]
    ticks: tuple[str, ...]
    corners: int


@dataclass(frozen=True, slots=True)
class Minimum:
    """The least that a condition can be on any order of the set: false, else unknown, else true.

    `witness` is an order on which it is so; None where every clause holds for one leaf's sake.
    """

    lowest: bool | None
    witness: Picks | None
    tried: tuple[TriedClause, ...]


def minimum_value(space: Space, tree: Tree, domains: Domains, limits: Limits) -> Minimum:
    """The least that `tree` can be. TooLarge where that takes more than the limits allow."""
    whole = dependency_closure(space, paths_in(tree))
    lowest: bool | None = True
    witness = None
    tried = []
    left = limits.corners
    for clause in to_cnf(tree, limits.clauses):
        tried.append(_tried(space, clause, domains, left))
        left -= tried[-1].corners
        for picks in _each(space, whole, tried[-1]):
            value = evaluate(tree, leaves_of(whole, picks))
            if value is False:
                return Minimum(False, _completed(space, picks), tuple(tried))
            if value is None and lowest:
                lowest, witness = None, _completed(space, picks)
    return Minimum(lowest, witness, tuple(tried))


def _completed(space: Space, picks: Picks) -> Picks:
    """With the presets of what the condition does not depend on."""
    chosen = {**space.base.chosen, **picks.chosen}
    return Picks(chosen, {**space.base.sections_on, **picks.sections_on})


def _tried(space: Space, clause: Clause, domains: Domains, most: int) -> TriedClause:
    sides = _sides(space, clause, domains)
    ticks = tuple(dict.fromkeys(tick for side in sides for tick in space.ticks_over[side.path]))
    count = math.prod(len(side.choices()) for side in sides) * 2 ** len(ticks)
    if count > most:
        raise TooLarge("too many corners would have to be tried")
    return TriedClause(clause, sides, ticks, count)


def _each(space: Space, whole: OrderSet, tried: TriedClause) -> Iterator[Picks]:
    base = {path: space.base.chosen[path] for path in whole.slots}
    ticked = {path: space.base.sections_on[path] for path in whole.ticks}
    paths = [side.path for side in tried.sides]
    for taken in itertools.product((True, False), repeat=len(tried.ticks)):
        ticks = {**ticked, **dict(zip(tried.ticks, taken, strict=True))}
        for choices in itertools.product(*(side.choices() for side in tried.sides)):
            yield Picks({**base, **dict(zip(paths, choices, strict=True))}, ticks)


def _sides(space: Space, clause: Clause, domains: Domains) -> tuple[Axis, ...]:
    """The slots on which a clause depends, each in cells, with the direction that fails it."""
    own = dependency_closure(space, [path for literal in clause for path in paths_of(literal.atom)])
    gating = [atom for gate in own.gates for atom in atoms(gate.tree)]
    found = [*(literal.atom for literal in clause), *gating]
    directions = _directions(clause, gating, own.slots)
    made = []
    for path, slot in own.slots.items():
        cells = domains.cells(slot, found)
        hidden = own.ticks or any(within(path, gate.path) for gate in own.gates)
        if not hidden:  # a cell that can be hidden stands for what is absent as well
            cells = tuple(cell for cell in cells if not _holds(clause, slot, cell))
        made.append(Axis(path, directions.get(path, "any"), cells))
    return tuple(made)


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
    for path, wanted in _failing_directions(clause, slots):
        found[path] = wanted if found.get(path, wanted) == wanted else "all"
    for atom in gating:  # what decides whether a leaf is shown at all may not be moved
        if isinstance(atom, Compare) and not is_unary(atom):
            found.update(dict.fromkeys(paths_of(atom), "all"))
    return found


def _failing_directions(
    clause: Clause, slots: Mapping[str, Slot]
) -> Iterator[tuple[str, Direction]]:
    for literal in clause:
        atom = literal.atom
        if isinstance(atom, Compare) and not is_unary(atom):
            for term in atom.terms:
                for path in term.paths:
                    yield path, _failing_direction(literal, term, slots)


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
