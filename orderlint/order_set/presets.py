"""The order that an order set yields if nobody picks anything, and what is still to be filled in.

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
    """The presets as an order, and the paths that somebody must fill in before it can be signed.

    What is to be filled in is given and cannot be read: it is not missing, and whatever hangs on it
    is unknown. What is hidden until something is picked is not among it.
    """

    order: Order
    to_fill: tuple[str, ...]


def preset_order(order_set: OrderSet) -> PresetOrder:
    """The presets of an order set as they stand."""
    leaves = order_of(order_set, *preset_picks(order_set))
    order = Order(order_set.file, leaves, _faults(order_set, leaves), order_set.places)
    empty = [path for path, slot in order_set.slots.items() if slot.preset is None]
    return PresetOrder(order, tuple(path for path in empty if leaves[path].given))


def preset_picks(order_set: OrderSet) -> tuple[dict[str, Leaf], dict[str, bool]]:
    """What stands at each slot and tick if nobody picks; unreadable where somebody must."""
    picked = {path: _preset(slot) for path, slot in order_set.slots.items()}
    return picked, {path: tick.preset for path, tick in order_set.ticks.items()}


def _preset(slot: Slot) -> Leaf:
    if slot.preset is None:
        return Leaf(slot.path, State.UNREADABLE, place=slot.place)
    return slot.options[slot.preset]


def _faults(order_set: OrderSet, leaves: Mapping[str, Leaf]) -> tuple[Fault, ...]:
    """The faults of the very texts that stand in the order."""
    unreadable = {
        (path, leaf.place) for path, leaf in leaves.items() if leaf.state is State.UNREADABLE
    }
    # What a fault spoils is the text it was found in; without that, it is one of the set itself.
    return tuple(
        fault
        for fault in order_set.faults
        if fault.spoils and (fault.path, fault.place) in unreadable
    )
