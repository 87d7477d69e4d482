"""What a plan consists of: events, periods, supplies, omissions.

Frozen data only. Never how it is computed or shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from fractions import Fraction

    from orderlint.finding import NotChecked
    from orderlint.local_time import Clock
    from orderlint.shift_plan.estimates import Estimates
    from orderlint.verification import Verified

EventKind: TypeAlias = Literal[
    "clock change",
    "review",
    "icp check",
    "neurological check",
    "output check",
    "level check",
    "zeroing",
    "titration step",
    "bag notice",
    "bag empty",
    "bag change",
    "collection bag full",
    "daily limit",
]
"""In the order in which they stand at one instant: what changes the reading of the list first, then
the checks, then fluids.
"""
Basis: TypeAlias = Literal["ordered rate", "earliest"]
PeriodKind: TypeAlias = Literal["shift", "day"]


@dataclass(frozen=True, slots=True)
class Event:
    """Something due at an instant, in whole milliseconds since 1970 UTC, rounded down.

    `basis` is the rate for which it holds: as ordered, or raised as early as titration allows; None
    if it holds for both. `number` counts bags and days from 1; `rate` is that of a titration step,
    in ticks.
    """

    at: int
    kind: EventKind
    basis: Basis | None = None
    number: int | None = None
    rate: int | None = None


@dataclass(frozen=True, slots=True)
class Volumes:
    """Volume irrigated and expected output, in ticks; None if unknown."""

    irrigated: Fraction | None
    output: Fraction | None


@dataclass(frozen=True, slots=True)
class Period:
    """A shift or a day between two instants, with its volumes.

    `ordered` is at the ordered rate; `earliest`, if there is titration, with the rate raised as
    early as possible.
    """

    kind: PeriodKind
    start: int
    end: int
    ordered: Volumes
    earliest: Volumes | None


@dataclass(frozen=True, slots=True)
class Supply:
    """The number of bags of `size` ticks hung until the plan's end, including the first."""

    kind: Literal["irrigation bag", "collection bag"]
    size: int
    ordered: int
    earliest: int | None


@dataclass(frozen=True, slots=True)
class Omission:
    """A part that the plan leaves out: the missing settings, or else the reason in words."""

    part: str
    missing: tuple[str, ...] = ()
    reason: str = ""


class Formation(NamedTuple):
    """CSF formation in ticks of flow, and the citation of its source as shown."""

    ticks: int
    source: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan from `start` to `end`, in milliseconds since 1970 UTC. Events are in time order.

    `begins` is the order's start if later, else `start`: nothing is due before it, and everything
    is counted from it.

    `formation` is the CSF formation in the expected output, None if there is no such output;
    `titrates` is true if the rate rises. `notes` are sentences.
    """

    verified: Verified
    clock: Clock
    start: int
    begins: int
    end: int
    events: tuple[Event, ...]
    periods: tuple[Period, ...]
    supplies: tuple[Supply, ...]
    estimates: Estimates
    formation: Formation | None
    titrates: bool
    notes: tuple[str, ...]
    omissions: tuple[Omission, ...]

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """The free texts of the order that are not checked."""
        return self.verified.not_checked
