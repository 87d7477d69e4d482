"""Computes events, volumes and bags from settings, in milliseconds after the start.

Joins the functions of `infusion`. Never reads a leaf or a calendar.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.infusion import (
    DAY,
    SHIFT,
    add_flow,
    constant_rate,
    daily_limit_times,
    hang_bags,
    split_into,
    titrated_rate,
    volume_run,
)
from orderlint.shift_plan.model import Basis, Event, EventKind, Period, PeriodKind, Supply, Volumes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.infusion import Bag, RateProfile
    from orderlint.shift_plan.settings import PlanSettings


@dataclass(frozen=True, slots=True)
class Scenario:
    """One course of the rate, and the bags that it uses; None where unknown."""

    irrigation: RateProfile | None
    output: RateProfile | None
    bags: tuple[Bag, ...] | None
    collection_bags: tuple[Bag, ...] | None


def scenarios_of(
    settings: PlanSettings, until: int, running: int
) -> tuple[Scenario, Scenario | None]:
    """Return the scenario at the ordered rate and, with titration, the fastest allowed one.

    `running` is how long the order has been in force at the start, in milliseconds.
    """
    titration, rate = settings.titration, settings.rate
    ordered = None if rate is None else constant_rate(rate)
    if titration is None or rate is None:
        return _run(settings, ordered, until), None
    rising = titrated_rate(rate, titration.step, titration.every, titration.most, until, running)
    return _run(settings, ordered, until), _run(settings, rising, until)


def _run(settings: PlanSettings, irrigation: RateProfile | None, until: int) -> Scenario:
    added = settings.outflow_added
    output = None
    if settings.output_known and added is not None:
        output = constant_rate(added) if irrigation is None else add_flow(irrigation, added)
    own, collection = settings.bag, settings.collection_bag
    every = settings.bag_change_every
    return Scenario(
        irrigation,
        output,
        hang_bags(irrigation, own, every, until) if irrigation and own else None,
        hang_bags(output, collection, None, until) if output and collection else None,
    )


def events_of(
    settings: PlanSettings, runs: tuple[Scenario, Scenario | None], until: int
) -> Iterator[Event]:
    """Yield all that is due up to and including `until`, unsorted; nothing if that is negative."""
    for kind, every in settings.checks.items():
        yield from (Event(at, kind) for at in range(0, until + 1, every))
    ordered, earliest = runs
    both = set(_of_run(ordered, settings, until))
    if earliest is None:
        yield from both
        return
    rising = set(_of_run(earliest, settings, until))
    yield from both & rising
    yield from _on("ordered rate", both - rising)
    yield from _on("earliest", rising - both)
    for step in (earliest.irrigation or ())[1:]:
        yield Event(step.at, "titration step", rate=step.rate)


def _on(basis: Basis, events: Iterable[Event]) -> Iterator[Event]:
    return (Event(event.at, event.kind, basis, event.number) for event in events)


def _of_run(run: Scenario, settings: PlanSettings, until: int) -> Iterator[Event]:
    for bag in run.bags or ():
        if bag.notice is not None and bag.notice <= until:
            yield Event(int(bag.notice), "bag notice", number=bag.number)
        if bag.over is not None and bag.over <= until:
            kind: EventKind = "bag empty" if bag.empties else "bag change"
            yield Event(int(bag.over), kind, number=bag.number)
    for bag in run.collection_bags or ():
        if bag.over is not None and bag.over <= until:
            yield Event(int(bag.over), "collection bag full", number=bag.number)
    if run.irrigation is not None and settings.daily_max is not None:
        for time in daily_limit_times(run.irrigation, settings.daily_max, until):
            yield Event(int(time), "daily limit", number=int(time) // DAY + 1)


def periods_of(runs: tuple[Scenario, Scenario | None], until: int) -> Iterator[Period]:
    """Yield the volumes of each shift, then of each day, both counted from the start."""
    ordered, earliest = runs
    if ordered.irrigation is None and ordered.output is None:
        return
    lengths: tuple[tuple[PeriodKind, int], ...] = (("shift", SHIFT), ("day", DAY))
    for kind, length in lengths:
        for start, end in split_into(length, until):
            rising = None if earliest is None else _volumes(earliest, start, end)
            yield Period(kind, start, end, _volumes(ordered, start, end), rising)


def _volumes(run: Scenario, start: int, end: int) -> Volumes:
    return Volumes(
        None if run.irrigation is None else volume_run(run.irrigation, start, end),
        None if run.output is None else volume_run(run.output, start, end),
    )


def supplies_of(settings: PlanSettings, runs: tuple[Scenario, Scenario | None]) -> Iterator[Supply]:
    """Yield the bags of each kind that must be at hand, including one hung at the end."""
    ordered, earliest = runs
    if ordered.bags and settings.bag is not None:
        rising = None if earliest is None or earliest.bags is None else len(earliest.bags)
        yield Supply("irrigation bag", settings.bag, len(ordered.bags), rising)
    if ordered.collection_bags and settings.collection_bag is not None:
        fuller = earliest.collection_bags if earliest else None
        rising = None if fuller is None else len(fuller)
        yield Supply(
            "collection bag", settings.collection_bag, len(ordered.collection_bags), rising
        )
