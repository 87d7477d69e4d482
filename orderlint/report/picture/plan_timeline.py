"""The picture of a plan: computes a clock and a lane per kind of event, then draws them as SVG.

The names of lanes and the layout. Never what is due.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

from orderlint.infusion import HOUR
from orderlint.local_time import wall_time
from orderlint.report.picture.labels import LINE, text_width, wrapped
from orderlint.report.picture.shapes import QUIET, TEXT, path, rectangle, svg_image, text_line
from orderlint.report.plan.words import BASES, EVENTS, date_words, time_words, to_minute
from orderlint.shift_plan.settings import CHECKS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

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
    **{kind: EVENTS[kind] for kind in CHECKS.values()},
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
# Each sign around 0, 0; signs differ in outline, not in colour.
_OUTLINES: Mapping[Sign, str] = {
    "stroke": "v-5v10",
    "notice": "m-4 4h8l-4 -8z",
    "change": "m-4 -4h8v8h-8z",
    "limit": "m-4 -4l8 8m0 -8l-8 8",
    "review": "m0 -5l5 5l-5 5l-5 -5z",
}
_FILLED = {"change", "review"}
_SHIFT, _RULE = "#f0f0f0", "#b9b9b9"


class Lane(NamedTuple):
    """A row of events. `text` is its name in lines, `marks` are their x and signs."""

    text: tuple[str, ...]
    top: int
    height: int
    marks: tuple[tuple[int, Sign], ...]


class TimelineDrawing(NamedTuple):
    """All that is to be drawn. `hours` are times on the clock, each with its x.

    `shifts` are the left and right edges of every second shift, `changes` where the clock is put
    forward or back; `key` the signs that are in use.
    """

    height: int
    bottom: int
    lanes: tuple[Lane, ...]
    hours: tuple[tuple[int, str], ...]
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


def _hours(plan: Plan) -> Iterator[tuple[int, str]]:
    length = (plan.end - plan.start) // HOUR
    per_hour = (CLOCK[1] - CLOCK[0]) / length
    step = next((step for step in _STEPS if step * per_hour >= _APART), _STEPS[-1])
    for hour in range(0, length + 1, step):
        at = plan.start + hour * HOUR
        yield _x(at, plan), time_words(wall_time(plan.clock, to_minute(at)))


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


def timeline_svg(timeline: TimelineDrawing, name: str) -> str:
    """The picture as one element. `name`, letters and digits, begins its ids."""
    body = (
        *_background(timeline),
        *(part for lane in timeline.lanes for part in _lane_drawn(lane)),
        *_key(timeline),
    )
    return svg_image(name, "What is due when", timeline.description, WIDTH, timeline.height, body)


def _background(timeline: TimelineDrawing) -> Iterator[str]:
    top = timeline.lanes[0].top
    for left, right in timeline.shifts:
        yield rectangle(left, top, right - left, timeline.bottom - top, _SHIFT)
    for x, text in timeline.hours:
        yield path(f"M{x} {top - 4}V{timeline.bottom}", stroke=_RULE)
        yield text_line(x, top - 8, text, QUIET, "middle", 10)
    for x in timeline.changes:
        yield path(f"M{x} {top - 4}V{timeline.bottom}", stroke=TEXT, stroke_dasharray="3 2")


def _lane_drawn(lane: Lane) -> Iterator[str]:
    middle = lane.top + lane.height // 2
    left, right = CLOCK
    yield path(f"M{left} {middle}H{right}", stroke=_RULE)
    first = middle - LINE * len(lane.text) // 2 + LINE - 3
    for index, line in enumerate(lane.text):
        yield text_line(NAMES[1], first + LINE * index, line, TEXT, "end")
    yield from (_sign(sign, x, middle) for x, sign in lane.marks)


def _sign(sign: Sign, x: float, y: float) -> str:
    fill = TEXT if sign in _FILLED else "#ffffff" if sign == "notice" else "none"
    return path(f"M{x} {y}{_OUTLINES[sign]}", stroke=TEXT, stroke_width="1.5", fill=fill)


def _key(timeline: TimelineDrawing) -> Iterator[str]:
    x = float(NAMES[0] + 8)
    for sign, text in timeline.key:
        yield _sign(sign, x, timeline.bottom + 14)
        yield text_line(x + 9, timeline.bottom + 18, text, QUIET)
        x += text_width(text) + 26
