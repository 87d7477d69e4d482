"""A unit's standing orders: lines of a policy that an order has if it says nothing of them.

Fills what is absent in an order. Never an unreadable leaf, and never reads a policy.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Leaf, Order

FILLABLE = (
    *("monitoring.level_every", "monitoring.relevel_on_move", "monitoring.zero_every"),
    *("monitoring.alarms", "transport.irrigation", "transport.drain"),
    *("transport.icp_monitored", "transport.clamp_max"),
)
"""The settings that standing orders may have: levelling, zeroing, alarms and transport."""


class StandingOrders(NamedTuple):
    """The name of the paper on which they stand, and their lines as leaves by path."""

    paper: str
    leaves: Mapping[str, Leaf]


def filled(order: Order, standing: StandingOrders | None) -> Order:
    """The order with each line of the standing orders of which it says nothing."""
    if standing is None:
        return order
    absent = {path: leaf for path, leaf in standing.leaves.items() if not order.leaves[path].given}
    return replace(order, leaves={**order.leaves, **absent}) if absent else order


def filled_in(order: Order) -> Iterator[Leaf]:
    """The leaves of an order that are from the policy's standing orders."""
    return (leaf for leaf in order.leaves.values() if leaf.from_policy)
