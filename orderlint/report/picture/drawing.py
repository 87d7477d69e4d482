"""Computes where each part of the picture of an order is: axis, levels, segments, labels.

Pure layout of a diagram, y downwards. No format-specific strings, and never a judgement.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.quantity_words import display_quantity
from orderlint.report.order.segment_words import opens_drain, short_words
from orderlint.report.picture.axis import Scale, middle_of, preferred_room, scale_of
from orderlint.report.picture.diagram import Diagram, description_of, ends_words
from orderlint.report.picture.labels import GAP, LINE, Label, stacked, wrapped
from orderlint.report.picture.segment_kinds import kind_of
from orderlint.units import TICKS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.behaviour import Segment

WIDTH = 380
BAND = (158, 204)
"""The left and the right edge of the axis."""
BRACKET = 127
"""Where the bracket of the normal range stands, at the end of the lines that lead from labels."""
BRACE = 240
"""Where the braces stand that lead from segments to their labels."""
LEFT = (2, 116)
"""Labels of levels, between these and aligned to the right one."""
RIGHT = (254, 378)
"""Labels of segments."""
NUMBERS = (BAND[0] - 6, BAND[1] + 7)
"""Where the numbers of the two scales end and begin."""
NUMBER_SIZE = 10
"""The font size of these numbers; labels have 11."""
UNITS_LINE = 14
"""The line on which the names of the scales stand."""

_TOP, _BOTTOM = 22, 20
"""Room for the names of the scales, and for what is said beneath."""
_BEYOND_LEVELS = 34
"""How far the axis goes on beyond the outermost levels."""
_APART = 30
"""Between two numbers of one scale, at least."""
_CLEAR = 9
"""Between a number of a scale and a level, at least."""
_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)

NOT_TO_SCALE = "The pressure axis is not drawn to scale."


class Band(NamedTuple):
    """A segment as it is drawn."""

    segment: Segment
    kind: str
    top: int
    bottom: int


class ScaleNumber(NamedTuple):
    """A number of one of the scales: of the left, first unit, or of the right, second one."""

    text: str
    y: int
    left: bool


class Drawing(NamedTuple):
    """All that is to be drawn, in a frame of WIDTH that begins at 0, 0.

    `lines` has the y of each level by the path of its setting, `normal` the upper and the lower end
    of the normal range. `description` says all of it.
    """

    height: int
    axis: tuple[int, int]
    bands: tuple[Band, ...]
    lines: Mapping[str, int]
    normal: tuple[int, int] | None
    levels: tuple[Label, ...]
    segments: tuple[Label, ...]
    numbers: tuple[ScaleNumber, ...]
    units: tuple[str, str]
    to_scale: bool
    description: tuple[str, ...]


def drawing_of(diagram: Diagram) -> Drawing:
    """The picture of a diagram, tall enough for its labels."""
    return drawings_of((diagram,))[0]


def drawings_of(diagrams: Sequence[Diagram]) -> tuple[Drawing, ...]:
    """Pictures to stand side by side: in all of them one pressure is at one height."""
    columns = (labels for diagram in diagrams for labels in _columns(diagram))
    needed = max(sum(LINE * len(lines) + GAP for lines in labels) for labels in columns)
    room = max(needed, preferred_room(diagrams) + 2 * _BEYOND_LEVELS)
    scale = scale_of(diagrams, _TOP + room - _BEYOND_LEVELS, room - 2 * _BEYOND_LEVELS)
    return tuple(_picture(diagram, scale, _TOP, _TOP + room) for diagram in diagrams)


def _columns(diagram: Diagram) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """The labels of levels and of segments, from the highest ICP down."""
    drain_opens = opens_drain(diagram.segments)
    said = [tuple(_lines(short_words(s, drain_opens), RIGHT)) for s in reversed(diagram.segments)]
    return [lines for _, lines in _level_texts(diagram)], said


def _picture(diagram: Diagram, scale: Scale, top: int, bottom: int) -> Drawing:
    drain_opens = opens_drain(diagram.segments)
    bands = tuple(_band(s, kind_of(s, drain_opens), scale, top, bottom) for s in diagram.segments)
    wanted = [(middle_of(scale, ticks), lines) for ticks, lines in _level_texts(diagram)]
    middles = [(band.top + band.bottom) // 2 for band in reversed(bands)]
    said = list(zip(middles, _columns(diagram)[1], strict=True))
    lines = {mark.path: middle_of(scale, mark.ticks) for mark in diagram.marks}
    return Drawing(
        bottom + _BOTTOM,
        (top, bottom),
        bands,
        lines,
        _normal(diagram, scale),
        _labels(wanted, LEFT, top, bottom, end=True),
        _labels(said, RIGHT, top, bottom, end=False),
        tuple(_numbers(diagram, scale, (top, bottom), [*lines.values()])),
        diagram.units,
        scale.per_tick > 0,
        tuple(description_of(diagram)),
    )


def _normal(diagram: Diagram, scale: Scale) -> tuple[int, int] | None:
    if diagram.normal is None:
        return None
    return middle_of(scale, diagram.normal.highest), middle_of(scale, diagram.normal.lowest)


def _level_texts(diagram: Diagram) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Pressure and label of each level and of the normal range, the highest first."""
    texts = [
        (mark.ticks, (mark.name, *(display_quantity(mark.ticks, unit) for unit in diagram.units)))
        for mark in reversed(diagram.marks)
    ]
    if diagram.normal:
        middle = (diagram.normal.lowest + diagram.normal.highest) // 2
        texts.append((middle, ("Normal ICP, lying", ends_words(diagram.normal, diagram.units[0]))))
    for ticks, parts in sorted(texts, key=lambda text: -text[0]):
        yield ticks, tuple(line for part in parts for line in _lines(part, LEFT))


def _lines(text: str, column: tuple[int, int]) -> Iterator[str]:
    return wrapped(text, column[1] - column[0])


def _labels(
    texts: Sequence[tuple[int, tuple[str, ...]]],
    column: tuple[int, int],
    top: int,
    bottom: int,
    *,
    end: bool,
) -> tuple[Label, ...]:
    heights = [LINE * len(lines) for _, lines in texts]
    edges = stacked(heights, [at for at, _ in texts], top, bottom)
    left, right = column
    return tuple(
        Label(left, y, right - left, lines, at, end)
        for y, (at, lines) in zip(edges, texts, strict=True)
    )


def _band(segment: Segment, kind: str, scale: Scale, top: int, bottom: int) -> Band:
    """INVARIANT: each end of a segment is a level that is written, hence a knot of the scale."""
    point = segment.start == segment.end
    low, high = bottom, top
    if segment.start is not None:
        low = round(scale.knots[segment.start][0 if point else 1])
    if segment.end is not None:
        high = round(scale.knots[segment.end][1 if point else 0])
    return Band(segment, kind, high, low)


def _numbers(
    diagram: Diagram, scale: Scale, axis: tuple[int, int], lines: list[int]
) -> Iterator[ScaleNumber]:
    """The round numbers of both scales, except those that a level would cross."""
    if not scale.per_tick:
        return
    knot, (y, _) = next(iter(scale.knots.items()))
    top, bottom = axis
    for unit, left in zip(diagram.units, (True, False), strict=True):
        size = TICKS["pressure"][unit]
        step = next(step for step in _STEPS if step * size * scale.per_tick >= _APART)
        lowest = knot - int((bottom - LINE - y) / scale.per_tick)
        for count in range(-(-lowest // (step * size)), 10**6):
            at = round(y - (count * step * size - knot) * scale.per_tick)
            if at < top + LINE // 2:
                break
            if not left or all(abs(at - line) >= _CLEAR for line in lines):
                yield ScaleNumber(str(count * step), at, left)
