"""The settings of an order that a plan can use: known, not zero, not too short.

One setting at a time, or one bag at its rate. Never a time of day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.infusion import HOUR, MINUTE, highest_rate

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.order import Leaf
    from orderlint.shift_plan.model import EventKind

CHECKS: Mapping[str, EventKind] = {
    "monitoring.icp_every": "icp check",
    "monitoring.neuro_every": "neurological check",
    "monitoring.output_every": "output check",
    "monitoring.level_every": "level check",
    "monitoring.zero_every": "zeroing",
}
"""Path of each check interval → the event that is then due."""

TITRATION = ("titration.step", "titration.every", "titration.max")

SHORTEST_INTERVAL = MINUTE
SHORTEST_BAG = 10 * MINUTE
"""Events more frequent than this are not listed, so that a list stays finite and readable."""


@dataclass(frozen=True, slots=True)
class Titration:
    """Step, maximum and the highest rate that whole steps reach, in ticks of flow.

    `every` is in milliseconds. At least one step fits within the maximum.
    """

    step: int
    every: int
    most: int
    highest: int


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """The usable settings, in ticks and milliseconds; None if not usable.

    `outflow_added` is CSF formation in ticks of flow, if the order drains.
    """

    irrigates: bool
    drains: bool
    rate: int | None
    titration: Titration | None
    bag: int | None
    bag_change_every: int | None
    collection_bag: int | None
    daily_max: int | None
    outflow_added: int | None
    checks: Mapping[EventKind, int]

    @property
    def output_known(self) -> bool:
        """True if the expected output can be computed."""
        known = self.rate is not None or not self.irrigates
        return self.drains and self.outflow_added is not None and known


def plan_settings(leaves: Mapping[str, Leaf], formation: int | None) -> PlanSettings:
    """Return the usable settings of an order; `formation` of CSF is in ticks of flow."""
    therapy = leaves["therapy"].value
    irrigates, drains = therapy == "irrigation", therapy in {"irrigation", "drainage"}
    rate = leaves["irrigation.rate"].number if irrigates else None
    titration = _titration(leaves, rate) if irrigates else None
    fastest = titration.highest if titration else rate
    running_out = (fastest or 0) + (formation or 0)
    intervals = {kind: usable_interval(leaves[path]) for path, kind in CHECKS.items()}
    return PlanSettings(
        irrigates,
        drains,
        rate,
        titration,
        usable_bag(leaves["irrigation.bag"], fastest) if irrigates else None,
        usable_interval(leaves["irrigation.bag_change_every"], SHORTEST_BAG) if irrigates else None,
        usable_bag(leaves["drainage.bag"], running_out) if drains else None,
        leaves["irrigation.daily_max"].number if irrigates else None,
        formation if drains else None,
        {kind: every for kind, every in intervals.items() if every is not None},
    )


def usable_interval(leaf: Leaf, shortest: int = SHORTEST_INTERVAL) -> int | None:
    """Return an interval in milliseconds, None if too short to list its events."""
    every = leaf.number
    return every if every is not None and every >= shortest else None


def usable_bag(leaf: Leaf, rate: int | None) -> int | None:
    """Return a bag's volume in ticks, None if it would not last long enough at `rate`."""
    size = leaf.number
    if not size or (rate is not None and size * HOUR < rate * SHORTEST_BAG):
        return None
    return size


def _titration(leaves: Mapping[str, Leaf], rate: int | None) -> Titration | None:
    step, most = leaves["titration.step"].number, leaves["titration.max"].number
    every = usable_interval(leaves["titration.every"])
    if not step or every is None or most is None or rate is None:
        return None
    top = highest_rate(rate, step, most)
    return Titration(step, every, most, top) if top > rate else None
