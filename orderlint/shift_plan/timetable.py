"""Settings → events, volumes and bags, in milliseconds after the start.

Joins the schedule's arithmetic. Never reads a leaf or a calendar.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.schedule import (
    DAY,
    SHIFT,
    bags,
    limit_reached,
    spans,
    steady,
    titrated,
    volume,
    with_added,
)
from orderlint.shift_plan.model import Event, Span, Supply, Volumes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.schedule import Bag, Course
    from orderlint.shift_plan.model import Basis, EventKind
    from orderlint.shift_plan.settings import Settings


@dataclass(frozen=True, slots=True)
class Run:
    """One way the rate may go, and the bags that it uses; None where that cannot be reckoned."""

    irrigation: Course | None
    output: Course | None
    bags: tuple[Bag, ...] | None
    collection_bags: tuple[Bag, ...] | None


def runs_of(settings: Settings, until: int, running: int) -> tuple[Run, Run | None]:
    """At the ordered rate and, where there is titration, raised as early as it allows.

    `running` is for how long the order has held at the start, in milliseconds.
    """
    titration, rate = settings.titration, settings.rate
    ordered = None if rate is None else steady(rate)
    if titration is None or rate is None:
        return _run(settings, ordered, until), None
    rising = titrated(rate, titration.step, titration.every, titration.most, until, running)
    return _run(settings, ordered, until), _run(settings, rising, until)


def _run(settings: Settings, irrigation: Course | None, until: int) -> Run:
    added = settings.outflow_added
    output = None
    if settings.output_known and added is not None:
        output = steady(added) if irrigation is None else with_added(irrigation, added)
    own, collection = settings.bag, settings.collection_bag
    every = settings.bag_change_every
    return Run(
        irrigation,
        output,
        bags(irrigation, own, every, until) if irrigation and own else None,
        bags(output, collection, None, until) if output and collection else None,
    )


def events_of(settings: Settings, runs: tuple[Run, Run | None], until: int) -> Iterator[Event]:
    """All that is due up to and including `until`, in no order; nothing where that is below 0."""
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


def _of_run(run: Run, settings: Settings, until: int) -> Iterator[Event]:
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
        for time in limit_reached(run.irrigation, settings.daily_max, until):
            yield Event(int(time), "daily limit", number=int(time) // DAY + 1)


def spans_of(runs: tuple[Run, Run | None], until: int) -> Iterator[Span]:
    """The volumes of each shift, then of each day, both counted from the start."""
    ordered, earliest = runs
    if ordered.irrigation is None and ordered.output is None:
        return
    for start, end in spans(SHIFT, until):
        yield Span("shift", start, end, *_both(ordered, earliest, start, end))
    for start, end in spans(DAY, until):
        yield Span("day", start, end, *_both(ordered, earliest, start, end))


def _both(
    ordered: Run, earliest: Run | None, start: int, end: int
) -> tuple[Volumes, Volumes | None]:
    rising = None if earliest is None else _volumes(earliest, start, end)
    return _volumes(ordered, start, end), rising


def _volumes(run: Run, start: int, end: int) -> Volumes:
    return Volumes(
        None if run.irrigation is None else volume(run.irrigation, start, end),
        None if run.output is None else volume(run.output, start, end),
    )


def supplies_of(settings: Settings, runs: tuple[Run, Run | None]) -> Iterator[Supply]:
    """The bags of each kind that must be at hand, one that is hung just at the end included."""
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
