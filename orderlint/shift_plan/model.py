"""What a plan is made of: events, spans, supplies, gaps.

Frozen data only. Never how one is worked out or shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from fractions import Fraction
    from typing import Literal, TypeAlias

    from orderlint.clock import Clock
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
    Basis: TypeAlias = Literal["ordered rate", "earliest"]


@dataclass(frozen=True, slots=True)
class Event:
    """Something due at an instant, in whole milliseconds since 1970 UTC, rounded down.

    `basis` says at which rate: as ordered, or raised as early as titration allows; None where
    that makes no difference. `number` counts bags and days from 1; `rate` is that of a titration
    step, in ticks.
    """

    at: int
    kind: EventKind
    basis: Basis | None = None
    number: int | None = None
    rate: int | None = None


@dataclass(frozen=True, slots=True)
class Volumes:
    """What runs in and what is expected to run out, in ticks; None where it cannot be had."""

    irrigated: Fraction | None
    output: Fraction | None


@dataclass(frozen=True, slots=True)
class Period:
    """A shift or a day between two instants: its volumes at the ordered rate and, where there is
    titration, with the rate raised as early as it allows."""

    kind: Literal["shift", "day"]
    start: int
    end: int
    ordered: Volumes
    earliest: Volumes | None


@dataclass(frozen=True, slots=True)
class Supply:
    """How many bags of `size` ticks are hung up to the plan's end, the first one included."""

    kind: Literal["irrigation bag", "collection bag"]
    size: int
    ordered: int
    earliest: int | None


@dataclass(frozen=True, slots=True)
class Omission:
    """A part that the plan cannot give: the settings lacking, or else the reason in words."""

    part: str
    missing: tuple[str, ...] = ()
    reason: str = ""


class Formation(NamedTuple):
    """CSF formation in ticks of flow, and the citation of its source as shown."""

    ticks: int
    source: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan from `start` to `end`, in milliseconds since 1970 UTC. Events stand in time order.

    `begins` is the order's start where that is later, else `start`: nothing is due before, and all
    is counted from there.

    `formation` is the formation of CSF in the expected output, None if there is no such output;
    `titrates` says whether the plan reckons with a rate that rises. `notes` are in words.
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
