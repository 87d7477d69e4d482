"""Draws the shares of an audit as SVG: by month as points, and of one row as a bar beside it.

Each with its 95 % interval. Words or the row say the same in numbers. Never a count.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from orderlint.report.picture import shapes
from orderlint.report.picture.labels import SIZE, text_width

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.report.blocks import Bar, Month, Monthly

_WIDTH, _HEIGHT = 380, 170
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 366, 14, 138
_GRID, _POINT = "#b9b9b9", "#005b8f"
_STEPS = (1, 2, 5, 10, 20, 25, 50, 100)
"""What the top of the scale can be, in tenths of a per cent and, times ten, per cent."""
_APART = 8
_HIDDEN, _BAND = "hidden", "#efefef"
_BAR_WIDTH, _BAR_HEIGHT, _END = 300, 12, 4
_FILL, _ROOM = "#9ccbe8", "#f2f2f2"
"""A bar is light, so that a dark line is seen on it; its edge shows its length."""


def monthly_svg(block: Monthly) -> str:
    """The picture as one element."""
    top = _top_of(block.months)
    places = _places(len(block.months))
    body = (
        *_bands(block.months),
        *_scale(top),
        *_names(block.months, places),
        *_line(block.months, places, top),
        *(part for m, x in zip(block.months, places, strict=True) for part in _month(m, x, top)),
        *_hidden_words(block.months),
    )
    words = map(_words, block.months)
    return shapes.svg_image(block.name, block.title, words, _WIDTH, _HEIGHT, body)


def _top_of(months: Sequence[Month]) -> int:
    """The top of the scale in tenths of a per cent: the least round number above all."""
    most = max((month.high for month in months if month.share is not None), default=0.0)
    steps = [step * power for power in (1, 10) for step in _STEPS]
    return next((step for step in steps if step >= most * 1000), 1000)


def _places(count: int) -> list[float]:
    """The x of each month, in the middle of its slot."""
    room = (_RIGHT - _LEFT) / max(count, 1)
    return [round(_LEFT + room * (index + 0.5), 1) for index in range(count)]


def _y(share: float, top: int) -> float:
    return round(_BOTTOM - (_BOTTOM - _TOP) * share * 1000 / top, 1)


def _scale(top: int) -> Iterator[str]:
    for tenths in (0.0, top / 2, float(top)):
        y = _y(tenths / 1000, top)
        yield shapes.path(f"M{_LEFT} {y}H{_RIGHT}", stroke=_GRID)
        yield shapes.text_line(_LEFT - 6, y + 4, f"{tenths / 10:g} %", shapes.QUIET, "end")


def _names(months: Sequence[Month], places: Sequence[float]) -> Iterator[str]:
    """The first and each later month for whose name there is room."""
    free = 0.0
    for month, x in zip(months, places, strict=True):
        half = text_width(month.month) / 2
        left = min(max(x - half, 0.0), _WIDTH - 2 * half)
        if left >= free:
            yield shapes.path(f"M{x} {_BOTTOM}v4", stroke=shapes.QUIET)
            yield shapes.text_line(
                round(left + half, 1), _BOTTOM + 18, month.month, shapes.QUIET, "middle"
            )
            free = left + 2 * half + _APART


def _hidden_runs(months: Sequence[Month]) -> Iterator[tuple[float, float]]:
    """From where to where months that follow each other are hidden."""
    room = (_RIGHT - _LEFT) / max(len(months), 1)
    at = 0
    for hidden, run in groupby(months, key=lambda month: month.share is None):
        end = at + len([*run])
        if hidden:
            yield round(_LEFT + room * at, 1), round(_LEFT + room * end, 1)
        at = end


def _bands(months: Sequence[Month]) -> Iterator[str]:
    """What stands for hidden months: all heights, since none is known."""
    for left, right in _hidden_runs(months):
        yield shapes.rectangle(left, _TOP, round(right - left, 1), _BOTTOM - _TOP, _BAND)


def _hidden_words(months: Sequence[Month]) -> Iterator[str]:
    """The word on each band: along it, or upwards where it is too narrow for that."""
    for left, right in _hidden_runs(months):
        x, y = round((left + right) / 2, 1), (3 * _TOP + _BOTTOM) // 4  # between two lines
        if right - left > text_width(_HIDDEN) + _APART:
            yield shapes.text_line(x, y + SIZE // 3, _HIDDEN, shapes.QUIET, "middle")
        elif right - left > SIZE:
            turned = f"rotate(-90 {x} {y})"
            look = {
                "fill": shapes.QUIET,
                "text-anchor": "middle",
                "font-size": SIZE,
                "transform": turned,
            }
            yield shapes.tag("text", {"x": x, "y": y + SIZE // 3, **look}, _HIDDEN)


def _line(months: Sequence[Month], places: Sequence[float], top: int) -> Iterator[str]:
    """From each month to the next; broken where one is hidden."""
    shape, pen = "", "M"
    for month, x in zip(months, places, strict=True):
        if month.share is None:
            pen = "M"
            continue
        shape += f"{pen}{x} {_y(month.share, top)}"
        pen = "L"
    if shape:
        yield shapes.path(shape, stroke=_POINT, stroke_width=1.5)


def _month(month: Month, x: float, top: int) -> Iterator[str]:
    if month.share is None:
        return
    low, high = _y(month.low, top), _y(month.high, top)
    yield shapes.path(f"M{x} {low}V{high}M{x - 3} {low}h6M{x - 3} {high}h6", stroke=shapes.TEXT)
    yield shapes.tag("circle", {"cx": x, "cy": _y(month.share, top), "r": 3, "fill": _POINT})


def _words(month: Month) -> str:
    if month.share is None:
        return f"{month.month}: {_HIDDEN}."
    low, high = (f"{100 * end:.1f}" for end in (month.low, month.high))
    return f"{month.month}: {100 * month.share:.1f} % (from {low} to {high} %)."


def bar_svg(bar: Bar) -> str:
    """The bar in the room that it could take at most, hidden from a screen reader."""
    attributes = {
        "class": "bar",
        "viewBox": f"0 0 {_BAR_WIDTH} {_BAR_HEIGHT}",
        "width": _BAR_WIDTH,
        "height": _BAR_HEIGHT,
        "aria-hidden": "true",
    }
    room = shapes.rectangle(0, 0, _BAR_WIDTH, _BAR_HEIGHT, _ROOM)
    filled = shapes.rectangle(0, 0, _bar_x(bar.length), _BAR_HEIGHT, _FILL)
    edge = shapes.path(f"M0.5 0.5H{_bar_x(bar.length)}V{_BAR_HEIGHT - 0.5}H0.5z", stroke=_POINT)
    return shapes.element("svg", attributes, (room, filled, edge, *_interval(bar)))


def _interval(bar: Bar) -> Iterator[str]:
    """A line from end to end, dark on the bar and beside it."""
    if bar.interval:
        low, high = map(_bar_x, bar.interval)
        middle = _BAR_HEIGHT // 2
        ends = (f"M{at} {middle - _END}v{2 * _END}" for at in (low, high))
        shape = f"M{low} {middle}H{high}{''.join(ends)}"
        yield shapes.path(shape, stroke=shapes.TEXT, stroke_width=1.5)


def _bar_x(share: float) -> float:
    return round(share * _BAR_WIDTH, 1)
