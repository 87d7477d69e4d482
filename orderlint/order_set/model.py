"""What an order set can yield: options of each leaf, offered sections, and when each is shown.

Frozen data, the meaning of a set of picks, and the order that it yields if nobody picks anything.
Never a file, never a rule.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.finding import Fault, Place
from orderlint.language.evaluate import evaluate
from orderlint.order import Leaf, Order, State

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.surface import Surface
    from orderlint.language.tree import Tree


@dataclass(frozen=True, slots=True)
class Span:
    """The values of an unbounded blank, too many to list.

    `lowest` and `highest` are ticks (milliseconds for an instant), both included. `grids` maps each
    unit that may be written to the ticks of its finest step: every value in that unit is a multiple
    of it. An instant or count has one grid, under ''. `steps` maps a unit to the ticks of the step
    in which a value is set or usually written in it: of values that will do, one on it is shown.
    """

    lowest: int
    highest: int
    grids: Mapping[str, int]
    steps: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Slot:
    """What one leaf of an order signed from the set may hold.

    `options` are the leaves that can be picked, in document order; an optional blank has the absent
    leaf first. With a `span`, any value of it is possible as well. `preset` is the index of the
    option used if nobody picks, None if somebody must. `label` is the form's wording of a blank.
    `signed` marks a fact of signing, about which no rule is proved. `blank` is true if the value is
    to be written; `step` is the step in ticks of options given from one end to the other.
    """

    path: str
    options: tuple[Leaf, ...]
    preset: int | None
    span: Span | None = None
    label: str = ""
    signed: bool = False
    place: Place | None = None
    blank: bool = False
    step: int | None = None


@dataclass(frozen=True, slots=True)
class OfferedSection:
    """A section that is offered as a whole: an order has all of it, or nothing of it."""

    path: str
    preset: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Gate:
    """When a leaf or section is shown. `tree` is the lowered condition; unknown hides."""

    path: str
    tree: Tree
    condition: Surface
    place: Place


@dataclass(frozen=True, slots=True)
class OrderSet:
    """An order set as read.

    `slots` has every leaf of an order: one that the set does not mention has the absent leaf as its
    only option. `gates` are in dependency order: each reads only leaves without a gate or with an
    earlier one. `head` has the facts at the top by key, as written. `faults` were met in reading.
    `unsettled` are those that leave open what the set can yield: with any, nothing may be called
    proved.
    """

    file: str
    head: Mapping[str, str]
    slots: Mapping[str, Slot]
    offered_sections: Mapping[str, OfferedSection]
    gates: tuple[Gate, ...]
    faults: tuple[Fault, ...] = ()
    places: Mapping[str, Place] = field(default_factory=dict)
    unsettled: tuple[Fault, ...] = ()

    def sections_over(self, path: str) -> list[str]:
        """Return the offered sections that hold a leaf: it is on an order only with all of them."""
        return [section for section in self.offered_sections if within(path, section)]

    def gates_over(self, path: str) -> list[Gate]:
        """Return the gates that can hide a leaf or section."""
        return [gate for gate in self.gates if within(path, gate.path)]

    def place_of(self, path: str) -> Place:
        """Return where `path` is written, or the nearest section that should contain it."""
        while path and path not in self.places:
            path = path.rpartition(".")[0]
        return self.places.get(path, Place(self.file, 1, 1))


def within(path: str, section: str) -> bool:
    """True if a leaf is at `section` (the path of a leaf or section) or below it."""
    return path == section or path.startswith(f"{section}.")


def order_of(
    order_set: OrderSet, leaves: Mapping[str, Leaf], sections_on: Mapping[str, bool]
) -> Mapping[str, Leaf]:
    """Return the leaves of the order that some picks yield: the meaning of an order set.

    `leaves` is the pick at each slot, `sections_on` whether each offered section was taken. A leaf
    in a section that was not taken, or that is not shown, is absent whatever was picked.
    """
    made = dict(leaves)
    for path in order_set.offered_sections:
        if not sections_on[path]:
            _hide(made, path)
    for gate in order_set.gates:
        if evaluate(gate.tree, made) is not True:
            _hide(made, gate.path)
    return made


def _hide(leaves: dict[str, Leaf], section: str) -> None:
    for path in leaves:
        if within(path, section):
            leaves[path] = Leaf(path)


def preset_order(order_set: OrderSet) -> Order:
    """Make the order of an order set's presets.

    A leaf to fill in is unreadable: it is not missing, and whatever depends on it is unknown.
    """
    leaves = order_of(order_set, *preset_picks(order_set))
    return Order(order_set.file, leaves, _faults(order_set, leaves), order_set.places)


def to_fill(order_set: OrderSet, presets: Order) -> tuple[str, ...]:
    """The paths to fill in before the presets are signed, but for those that are hidden as yet."""
    empty = (path for path, slot in order_set.slots.items() if slot.preset is None)
    return tuple(path for path in empty if presets.leaves[path].given)


def preset_picks(order_set: OrderSet) -> tuple[dict[str, Leaf], dict[str, bool]]:
    """Return the preset of each slot and offered section; unreadable where there is none."""
    picked = {path: _preset(slot) for path, slot in order_set.slots.items()}
    return picked, {path: section.preset for path, section in order_set.offered_sections.items()}


def _preset(slot: Slot) -> Leaf:
    if slot.preset is None:
        return Leaf(slot.path, State.UNREADABLE, place=slot.place)
    return slot.options[slot.preset]


def _faults(order_set: OrderSet, leaves: Mapping[str, Leaf]) -> tuple[Fault, ...]:
    """Return the faults of the texts that are part of the order."""
    unreadable = {
        (path, leaf.place) for path, leaf in leaves.items() if leaf.state is State.UNREADABLE
    }
    # A fault that makes no leaf unreadable is one of the set itself.
    return tuple(
        fault
        for fault in order_set.faults
        if fault.spoils and (fault.path, fault.place) in unreadable
    )
