"""Joins settings, timetable, estimates and omissions into one plan, on one clock.

The only place that knows both an order and a calendar. Never a word of a report.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, get_args

from orderlint.infusion import HOUR
from orderlint.local_time import Clock, clock_changes, fixed_clock, zone_clock
from orderlint.rulebook.citation import cited
from orderlint.shift_plan.estimates import estimate
from orderlint.shift_plan.model import Event, EventKind, Formation, Omission, Plan
from orderlint.shift_plan.notes import (
    begun_before,
    given_on_another_clock,
    notes_of,
    short_of_maximum,
)
from orderlint.shift_plan.omissions import find_omissions
from orderlint.shift_plan.settings import plan_settings
from orderlint.shift_plan.timetable import events_of, periods_of, scenarios_of, supplies_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.order import Leaf
    from orderlint.rulebook.policy.policy_values import PolicyValue
    from orderlint.verification import Verified

_ORDER = get_args(EventKind)


def plan_of(verified: Verified, start: int, hours: int, offset: int, csf_rate: PolicyValue) -> Plan:
    """Plan an order for `hours` whole hours from `start`, in milliseconds since 1970 UTC.

    Times are in the order's zone or, if that is not known, on a clock `offset` seconds ahead of
    UTC. `csf_rate` is the policy's CSF formation, by patient group or for all.
    """
    leaves = verified.order.leaves
    end = start + hours * HOUR
    clock, no_zone = _clock(leaves["zone"], offset)
    formed = csf_rate.quantity_for(str(leaves["patient.group"].value))
    formation = formed.ticks if formed else None
    settings = plan_settings(leaves, formation)
    begun = leaves["starts"].number
    begins, running = (start, 0) if begun is None else (max(start, begun), max(start - begun, 0))
    until = end - begins
    runs = scenarios_of(settings, until, running)
    timed = events_of(settings, runs, until)
    events = [replace(event, at=begins + event.at) for event in timed]
    events += _of_calendar(clock, leaves["review_by"], start, end)
    made = None if formation is None else Formation(formation, cited(csf_rate.sources))
    return Plan(
        verified=verified,
        clock=clock,
        start=start,
        begins=begins,
        end=end,
        events=tuple(sorted(events, key=_rank)),
        periods=tuple(
            replace(span, start=begins + span.start, end=begins + span.end)
            for span in periods_of(runs, until)
        ),
        supplies=tuple(supplies_of(settings, runs)),
        estimates=estimate(leaves, formation),
        formation=made if settings.output_known else None,
        titrates=settings.titration is not None,
        notes=(
            *given_on_another_clock(clock, start, offset),
            *notes_of(leaves, start, end),
            *begun_before(leaves, runs, start),
            *short_of_maximum(settings),
        ),
        omissions=(*no_zone, *find_omissions(leaves, settings, formation)),
    )


def _of_calendar(clock: Clock, review_by: Leaf, start: int, end: int) -> Iterator[Event]:
    """Yield the events that the calendar gives and the schedule does not."""
    yield from (Event(at, "clock change") for at in clock_changes(clock, start, end))
    review = review_by.number
    if review is not None and start <= review <= end:
        yield Event(review, "review")


def _clock(zone: Leaf, offset: int) -> tuple[Clock, tuple[Omission, ...]]:
    """Return the clock of the order's zone; if it is unknown, a fixed one and the omission."""
    if zone.known:
        return zone_clock(str(zone.value)), ()
    if not zone.given:
        return fixed_clock(offset), ()
    part = "Times in the order's zone, for which the offset of the plan's start stands in"
    return fixed_clock(offset), (Omission(part, (zone.path,)),)


def _rank(event: Event) -> tuple[int, int, int, str]:
    return event.at, _ORDER.index(event.kind), event.number or 0, event.basis or ""
