"""Draws the bar beside a row of counts as SVG, and the interval across its end.

It repeats what the row says in numbers, so it is hidden from a screen reader.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.picture.shapes import TEXT, element, path, rectangle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.report.blocks import Bar

_WIDTH, _HEIGHT = 300, 8
_FILL, _ROOM = "#005b8f", "#e6e6e6"


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
    return element("svg", attributes, (room, filled, *_interval(bar)))


def _interval(bar: Bar) -> Iterator[str]:
    """A line from end to end, on a lighter one so that it is seen on the bar as well."""
    if bar.interval:
        low, high = map(_place, bar.interval)
        middle = _HEIGHT // 2
        shape = f"M{low} {middle}H{high}M{low} {middle - 3}v6M{high} {middle - 3}v6"
        yield path(shape, stroke="#ffffff", stroke_width=3.5)
        yield path(shape, stroke=TEXT, stroke_width=1.5)


def _place(share: float) -> float:
    return round(share * _WIDTH, 1)
