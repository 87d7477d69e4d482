"""An order set as a proof sees it: picks, the order they yield, and what a condition depends on.

Enumeration and solver share only this: the set completed so that every leaf that is read has a
slot, its presets, and the order that picks yield. Each works out for itself what hides a leaf and
which values a blank takes, and what either finds is evaluated on that order. Where a comparison
turns (turning_points) is asked by enumeration, and of the solver only by what proposes a narrowing,
which decides no rule. Never a verdict.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

from orderlint.fields import CHECKED_AT, field_table
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import paths_in
from orderlint.leaf_reader import example_leaf
from orderlint.order import Leaf, State
from orderlint.order_set.model import OrderSet, Slot, Span, order_of, within
from orderlint.quantity_words import format_exactly, format_instant

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.language.budget import Budget

SlotChoice: TypeAlias = "int | Leaf"
"""What stands at a slot: the index of an option, or a value of its span."""


@dataclass(frozen=True, slots=True)
class Limits:
    """How much is tried before a proof is given up: never a proof on less.

    `effort` is z3's own count of steps for one question, the same on every machine, and
    `choices_effort` that for all the options of a set together; `milliseconds` is a second limit,
    for a question that takes a machine too long all the same. `corners` bounds what is evaluated
    for one condition, `clauses` how many its clauses may be. `budget` is the effort left for all
    questions together, None without end.
    """

    effort: int = 4_000_000
    choices_effort: int = 4_000_000
    milliseconds: int = 60_000
    corners: int = 50_000
    clauses: int = 2_000
    budget: Budget | None = field(default=None, compare=False)

    @property
    def is_spent(self) -> bool:
        """Whether the effort for the whole run was used up."""
        return self.budget is not None and self.budget.is_spent


@dataclass(frozen=True, slots=True)
class Picks:
    """What is picked at each slot, and whether each offered section is taken."""

    chosen: Mapping[str, SlotChoice]
    sections_on: Mapping[str, bool]


class TooLarge(Exception):  # noqa: N818 - no mistake, but a proof that was given up
    """A proof was given up, and why, in words."""


class Disagreement(RuntimeError):  # noqa: N818 - no mistake of a caller's
    """Two ways to the same answer did not meet: a fault of ours, never a verdict.

    `solver` and `other` are what each of them says, in words.
    """

    def __init__(self, about: str, solver: str, other: str) -> None:
        super().__init__(f"{about}: the solver says {solver}, {other}")


@dataclass(frozen=True, slots=True)
class Space:
    """An order set in which every leaf that is read has a slot, and the picks of its presets."""

    order_set: OrderSet
    base: Picks


def space_of(order_set: OrderSet, paths: Iterable[str] = ()) -> Space:
    """The set as a proof sees it: a leaf is absent where its slot has nothing that could be listed.

    So is one of `paths`, or one that a gate reads, where it has no slot.
    """
    slots = {
        path: slot
        if slot.options or slot.span
        else replace(slot, options=(Leaf(path),), preset=None)
        for path, slot in order_set.slots.items()
    }
    for path in (*paths_in(*(gate.tree for gate in order_set.gates)), *sorted(paths)):
        if path not in slots:
            slots[path] = Slot(path, (Leaf(path),), 0, signed=path == CHECKED_AT)
    whole = replace(order_set, slots=slots)
    return Space(whole, presets(whole))


def dependency_closure(order_set: OrderSet, paths: Iterable[str]) -> OrderSet:
    """The set with only those slots, sections and gates on which these leaves can depend.

    For what is shown of a proof that is made, and for what is asked at all: neither way uses it.
    """
    wanted = set(paths)
    gates = []
    # INVARIANT: each gate reads only leaves whose own gates stand before it; so one pass is enough.
    for gate in reversed(order_set.gates):
        if any(within(path, gate.path) for path in wanted):
            gates.append(gate)
            wanted.update(paths_in(gate.tree))
    slots = {path: slot for path, slot in order_set.slots.items() if path in wanted}
    offered = order_set.offered_sections
    over = {
        section: offered[section] for path in slots for section in order_set.sections_over(path)
    }
    return replace(order_set, slots=slots, offered_sections=over, gates=tuple(reversed(gates)))


def presets(order_set: OrderSet) -> Picks:
    """What stands there if nobody picks; where somebody must, the first there is."""
    chosen = {path: _preset(slot) for path, slot in order_set.slots.items()}
    offered = order_set.offered_sections
    return Picks(chosen, {path: section.preset for path, section in offered.items()})


def _preset(slot: Slot) -> SlotChoice:
    if slot.preset is not None:
        return slot.preset
    if slot.options:
        return 0
    return nearest(slot, slot.span) if slot.span else Leaf(slot.path)


def leaf_at(slot: Slot, choice: SlotChoice) -> Leaf:
    """The leaf that was picked."""
    return slot.options[choice] if isinstance(choice, int) else choice


def leaves_of(order_set: OrderSet, picks: Picks) -> Mapping[str, Leaf]:
    """The leaves of the order that the picks yield, by the meaning of an order set."""
    picked = {path: leaf_at(slot, picks.chosen[path]) for path, slot in order_set.slots.items()}
    return order_of(order_set, picked, picks.sections_on)


def is_shown(order_set: OrderSet, path: str, picks: Picks, leaves: Mapping[str, Leaf]) -> bool:
    """Whether a leaf is on the order that the picks yield, of which `leaves` are the leaves.

    INVARIANT: what a gate reads is settled before the gate, so that the final leaves tell.
    """
    taken = all(picks.sections_on[section] for section in order_set.sections_over(path))
    return taken and all(evaluate(gate.tree, leaves) is True for gate in order_set.gates_over(path))


def is_open(slot: Slot) -> bool:
    """Whether nothing stands there until somebody picks or writes; so no pick is a departure."""
    return slot.preset is None or slot.span is not None or not slot.options[slot.preset].given


def is_variable(slot: Slot) -> bool:
    """Whether there is anything to pick."""
    return len(slot.options) > 1 or slot.span is not None


def example_of(path: str) -> int:
    """The value of the schema's own example of a field that is a number or an instant."""
    value = example_leaf(field_table().fields[path]).value
    return value if isinstance(value, int) else 0


def leaf_in_range(path: str, value: int, unit: str) -> Leaf:
    """A value of a span as the leaf it would be, plainly written, with all its digits."""
    return Leaf(path, State.KNOWN, value, unit or None, _typed(path, value, unit))


def _typed(path: str, value: int, unit: str) -> str:
    if unit:
        return format_exactly(value, unit)
    return format_instant(value) if field_table().fields[path].kind == "instant" else str(value)


def nearest(slot: Slot, span: Span) -> Leaf:
    """The value of a span that is nearest to the schema's example; of two, the smaller."""
    example = example_of(slot.path)
    found = []
    for rank, (unit, grid) in enumerate(span.grids.items()):
        first, last = -(-span.lowest // grid), span.highest // grid
        for count in {min(max(example // grid + extra, first), last) for extra in (0, 1)}:
            if first <= last:
                found.append((abs(count * grid - example), count * grid, rank, unit))
    if not found:
        raise ValueError(f"{slot.path}: no value can be written in this span")
    _, value, _, unit = min(found)
    return leaf_in_range(slot.path, value, unit)
