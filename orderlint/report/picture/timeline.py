"""Computes where each part of the picture of a plan is: a clock, and a lane per kind of event.

Pure layout, with the names of lanes. No format-specific strings, and never what is due.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.infusion import HOUR
from orderlint.local_time import wall_time
from orderlint.report.picture.labels import LINE, wrapped
from orderlint.report.plan.words import BASES, date_words, time_words, to_minute

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Literal, TypeAlias

    from orderlint.shift_plan import Plan
    from orderlint.shift_plan.model import Event, EventKind

    Sign: TypeAlias = Literal["stroke", "notice", "change", "limit", "review"]

WIDTH = 380
NAMES = (2, 112)
"""The names of lanes, between these and aligned to the right one."""
CLOCK = (122, 364)
"""From the start of the plan to its end."""
_TOP = 22
_LANE = 22
_APART = 44
"""Between two times on the clock, at least."""
_STEPS = (1, 2, 3, 4, 6, 8, 12, 24, 48)

_LANES: Mapping[EventKind, str] = {
    "icp check": "ICP check",
    "neurological check": "neurological check",
    "output check": "output check",
    "level check": "drain level check",
    "zeroing": "zeroing",
    "bag notice": "irrigation bag",
    "bag empty": "irrigation bag",
    "bag change": "irrigation bag",
    "collection bag full": "collection bag",
    "titration step": "earliest titration step",
    "daily limit": "daily irrigation limit",
    "review": "review of the order",
}
"""The lane of each kind of event, but for a change of the clock, which is a line across all."""
_SIGNS: Mapping[EventKind, Sign] = {
    "bag notice": "notice",
    "bag empty": "change",
    "bag change": "change",
    "collection bag full": "change",
    "daily limit": "limit",
    "review": "review",
}

KEY: tuple[tuple[Sign, str], ...] = (
    ("stroke", "due"),
    ("notice", "80 % used"),
    ("change", "next bag"),
    ("limit", "limit reached"),
    ("review", "review"),
)
"""What the signs mean."""


class Lane(NamedTuple):
    """A row of events. `text` is its name in lines, `marks` are their x and signs."""

    text: tuple[str, ...]
    top: int
    height: int
    marks: tuple[tuple[int, Sign], ...]


class Hour(NamedTuple):
    """A time on the clock."""

    text: str
    x: int


class TimelineDrawing(NamedTuple):
    """All that is to be drawn. `shifts` are the left and right edges of every second shift.

    `changes` are where the clock is put forward or back; `key` the signs that are in use.
    """

    width: int
    height: int
    bottom: int
    lanes: tuple[Lane, ...]
    hours: tuple[Hour, ...]
    shifts: tuple[tuple[int, int], ...]
    changes: tuple[int, ...]
    key: tuple[tuple[Sign, str], ...]
    description: tuple[str, ...]


def timeline_of(plan: Plan) -> TimelineDrawing | None:
    """The picture of a plan; None where nothing is due."""
    grouped = _grouped(plan)
    if not grouped:
        return None
    lanes = tuple(_lanes(grouped, plan))
    used = {sign for lane in lanes for _, sign in lane.marks}
    key = tuple(entry for entry in KEY if entry[0] in used) if used != {"stroke"} else ()
    bottom = lanes[-1].top + lanes[-1].height
    return TimelineDrawing(
        WIDTH,
        bottom + (LINE + 12 if key else 8),
        bottom,
        lanes,
        tuple(_hours(plan)),
        tuple(_shifts(plan)),
        tuple(_x(e.at, plan) for e in plan.events if e.kind == "clock change"),
        key,
        tuple(_words(grouped, plan)),
    )


def _grouped(plan: Plan) -> dict[str, list[Event]]:
    """The events of each lane by its name, in the order of _LANES."""
    found: dict[str, list[Event]] = {}
    kinds = list(_LANES)
    events = (event for event in plan.events if event.kind in _LANES)
    for event in sorted(events, key=lambda e: (kinds.index(e.kind), e.basis == "earliest")):
        name = _LANES[event.kind]
        if event.basis:
            name += f", {BASES[event.basis]}"
        found.setdefault(name, []).append(event)
    return found


def _lanes(grouped: Mapping[str, list[Event]], plan: Plan) -> Iterator[Lane]:
    top = _TOP
    for name, events in grouped.items():
        text = tuple(wrapped(name, NAMES[1] - NAMES[0]))
        height = max(_LANE, LINE * len(text) + 6)
        marks = ((_x(event.at, plan), _SIGNS.get(event.kind, "stroke")) for event in events)
        yield Lane(text, top, height, tuple(dict.fromkeys(marks)))
        top += height


def _x(at: int, plan: Plan) -> int:
    left, right = CLOCK
    return left + round((at - plan.start) * (right - left) / (plan.end - plan.start))


def _hours(plan: Plan) -> Iterator[Hour]:
    length = (plan.end - plan.start) // HOUR
    per_hour = (CLOCK[1] - CLOCK[0]) / length
    step = next((step for step in _STEPS if step * per_hour >= _APART), _STEPS[-1])
    for hour in range(0, length + 1, step):
        at = plan.start + hour * HOUR
        yield Hour(time_words(wall_time(plan.clock, to_minute(at))), _x(at, plan))


def _shifts(plan: Plan) -> Iterator[tuple[int, int]]:
    shifts = [span for span in plan.periods if span.kind == "shift"]
    for span in shifts[1::2]:
        yield _x(span.start, plan), _x(span.end, plan)


def _words(grouped: Mapping[str, list[Event]], plan: Plan) -> Iterator[str]:
    """How often each is due, and from when to when."""
    start = wall_time(plan.clock, plan.start)
    yield f"From {date_words(start)}, {time_words(start)}."
    for name, events in grouped.items():
        first, last = (
            time_words(wall_time(plan.clock, to_minute(at)))
            for at in (min(e.at for e in events), max(e.at for e in events))
        )
        several = f"{len(events)} times, {first} to {last}"
        times = several if len(events) > 1 else f"once, at {first}"
        yield f"{name[:1].upper()}{name[1:]}: {times}."
