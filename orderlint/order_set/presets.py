"""The order that an order set yields if nobody picks anything, and what must still be filled in.

Made to be verified as any order is. Never another set of picks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.order import Leaf, Order, State
from orderlint.order_set.model import order_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Fault
    from orderlint.order_set.model import OrderSet, Slot


@dataclass(frozen=True, slots=True)
class PresetOrder:
    """The presets as an order, and the paths to fill in before it can be signed.

    A leaf to fill in is unreadable: it is not missing, and whatever depends on it is unknown.
    Leaves hidden until something is picked are not in `to_fill`.
    """

    order: Order
    to_fill: tuple[str, ...]


def preset_order(order_set: OrderSet) -> PresetOrder:
    """Make the order of an order set's presets."""
    leaves = order_of(order_set, *preset_picks(order_set))
    order = Order(order_set.file, leaves, _faults(order_set, leaves), order_set.places)
    empty = [path for path, slot in order_set.slots.items() if slot.preset is None]
    return PresetOrder(order, tuple(path for path in empty if leaves[path].given))


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
