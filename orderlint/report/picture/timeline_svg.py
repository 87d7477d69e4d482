"""Draws the picture of a plan as SVG.

Positions come from timeline.py.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.picture import timeline as places
from orderlint.report.picture.labels import LINE, text_width
from orderlint.report.picture.shapes import QUIET, TEXT, path, rectangle, svg_image, text_line

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.report.picture.timeline import Lane, Sign, TimelineDrawing

_SHIFT, _RULE = "#f0f0f0", "#b9b9b9"
_TITLE = "What is due when"
# Each sign around 0, 0; signs differ in outline, not in colour.
_SIGNS: dict[Sign, str] = {
    "stroke": "v-5v10",
    "notice": "m-4 4h8l-4 -8z",
    "change": "m-4 -4h8v8h-8z",
    "limit": "m-4 -4l8 8m0 -8l-8 8",
    "review": "m0 -5l5 5l-5 5l-5 -5z",
}
_FILLED = {"change", "review"}


def timeline_svg(timeline: TimelineDrawing, name: str) -> str:
    """The picture as one element. `name`, letters and digits, begins its ids."""
    body = (
        *_background(timeline),
        *(part for lane in timeline.lanes for part in _lane(lane)),
        *_key(timeline),
    )
    return svg_image(name, _TITLE, timeline.description, timeline.width, timeline.height, body)


def _background(timeline: TimelineDrawing) -> Iterator[str]:
    top = timeline.lanes[0].top
    for left, right in timeline.shifts:
        yield rectangle(left, top, right - left, timeline.bottom - top, _SHIFT)
    for hour in timeline.hours:
        yield path(f"M{hour.x} {top - 4}V{timeline.bottom}", stroke=_RULE)
        yield text_line(hour.x, top - 8, hour.text, QUIET, "middle", 10)
    for x in timeline.changes:
        yield path(f"M{x} {top - 4}V{timeline.bottom}", stroke=TEXT, stroke_dasharray="3 2")


def _lane(lane: Lane) -> Iterator[str]:
    middle = lane.top + lane.height // 2
    left, right = places.CLOCK
    yield path(f"M{left} {middle}H{right}", stroke=_RULE)
    first = middle - LINE * len(lane.text) // 2 + LINE - 3
    for index, line in enumerate(lane.text):
        yield text_line(places.NAMES[1], first + LINE * index, line, TEXT, "end")
    yield from (_sign(sign, x, middle) for x, sign in lane.marks)


def _sign(sign: Sign, x: float, y: float) -> str:
    fill = TEXT if sign in _FILLED else "#ffffff" if sign == "notice" else "none"
    return path(f"M{x} {y}{_SIGNS[sign]}", stroke=TEXT, stroke_width="1.5", fill=fill)


def _key(timeline: TimelineDrawing) -> Iterator[str]:
    x = float(places.NAMES[0] + 8)
    for sign, text in timeline.key:
        yield _sign(sign, x, timeline.bottom + 14)
        yield text_line(x + 9, timeline.bottom + 18, text, QUIET)
        x += text_width(text) + 26
