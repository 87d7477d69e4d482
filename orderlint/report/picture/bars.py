"""Draws the bar beside a row of counts as SVG, and the interval across its end.

It repeats what the row says in numbers, so it is hidden from a screen reader.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.picture.shapes import TEXT, element, path, rectangle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.report.blocks import Bar

_WIDTH, _HEIGHT, _END = 300, 12, 4
_FILL, _EDGE, _ROOM = "#9ccbe8", "#005b8f", "#f2f2f2"
"""The bar is light, so that a dark line is seen on it; its edge shows its length."""


def bar_svg(bar: Bar) -> str:
    """The bar in the room that it could take at most."""
    attributes = {
        "class": "bar",
        "viewBox": f"0 0 {_WIDTH} {_HEIGHT}",
        "width": _WIDTH,
        "height": _HEIGHT,
        "aria-hidden": "true",
    }
    room = rectangle(0, 0, _WIDTH, _HEIGHT, _ROOM)
    filled = rectangle(0, 0, _place(bar.length), _HEIGHT, _FILL)
    edge = path(f"M0.5 0.5H{_place(bar.length)}V{_HEIGHT - 0.5}H0.5z", stroke=_EDGE)
    return element("svg", attributes, (room, filled, edge, *_interval(bar)))


def _interval(bar: Bar) -> Iterator[str]:
    """A line from end to end, dark on the bar and beside it."""
    if bar.interval:
        low, high = map(_place, bar.interval)
        middle = _HEIGHT // 2
        ends = (f"M{at} {middle - _END}v{2 * _END}" for at in (low, high))
        shape = f"M{low} {middle}H{high}{''.join(ends)}"
        yield path(shape, stroke=TEXT, stroke_width=1.5)


def _place(share: float) -> float:
    return round(share * _WIDTH, 1)
