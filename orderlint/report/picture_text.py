"""The picture of an order in characters, for a terminal: the same levels, segments and looks.

Rows from the highest ICP down. Never wider than it is told, and never a coordinate of its own.
"""

from __future__ import annotations

import textwrap
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.layout import paragraph
from orderlint.report.looks import LOOKS, kind_of
from orderlint.report.scene import normal_words
from orderlint.report.table import acts_in, range_words, short_words
from orderlint.units import in_unit, number_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.behaviour import Segment
    from orderlint.report.scene import Mark, Scene

NARROWEST = 70
"""Columns without which there is no room for a picture."""
_STROKES = {"pause.upper": "━", "pause.lower": "━", "treat_above": "─", "drainage.height": "╌"}
_AXIS, _STUB = 6, 2
"""How wide the axis is with its edges, and how far a level stands out on either side."""
_ACROSS = _AXIS + 2 * _STUB
_MOST_ROWS = 5
"""That a stretch between two levels takes beyond the first, if it is all there is."""


class _Stretch(NamedTuple):
    """Rows between two levels, or at one where alone something happens, with what is said there."""

    segment: Segment
    rows: int
    words: str


def picture_lines(scene: Scene, width: int) -> list[str]:
    """The picture in lines of at most `width` columns.

    None where there is no segment to draw, or no room.
    """
    if not scene.segments or width < NARROWEST:
        return []
    numbers = {mark: _numbers(mark, scene.units) for mark in scene.marks}
    names = max(len(mark.name) for mark in numbers)
    most = max(len(scene.units[0]), *(len(first) for first, _ in numbers.values()))
    start = 2 + names + 2 + most
    acts = acts_in(scene.segments)
    lines = [f"{scene.units[0]:>{start}} {'':{_ACROSS}} {scene.units[1]}"]
    for part in _parts(scene):
        if isinstance(part, _Stretch):
            lines += _rows(part, kind_of(part.segment, acts), start + 1 + _STUB, width)
        else:
            first, second = numbers[part]
            across = _STROKES[part.path] * _ACROSS
            lines.append(f"  {part.name:<{names}}  {first:>{most}} {across} {second}")
    return [*lines, *paragraph(_beneath(scene), width, 2).split("\n")]


def _numbers(mark: Mark, units: tuple[str, str]) -> tuple[str, str]:
    first, second = (number_words(in_unit(mark.ticks, unit)) for unit in units)
    return first, second


def _beneath(scene: Scene) -> str:
    normal = f"{normal_words(scene.normal, scene.units[0])}. " if scene.normal else ""
    return f"{normal}Heights in this picture are not to scale."


def _rows(stretch: _Stretch, kind: str, column: int, width: int) -> Iterator[str]:
    """The words stand in the middle of the rows, of which there are as many as they need."""
    start = column + _AXIS + _STUB + 1
    words = textwrap.wrap(stretch.words, width - start)
    count = max(stretch.rows, len(words))
    words = [""] * ((count - len(words)) // 2) + words
    bar = f"{'':{column}}│{LOOKS[kind].sign * (_AXIS - 2)}│{'':{_STUB}} "
    yield from (f"{bar}{text}".rstrip() for text in words)
    yield from (bar.rstrip() for _ in range(count - len(words)))


def _parts(scene: Scene) -> Iterator[Mark | _Stretch]:
    """Stretches and levels, from the highest ICP down."""
    left = list(scene.marks)
    for segment in reversed(scene.segments):
        for stretch, below in _stretches(segment, scene):
            yield stretch
            while left and left[-1].ticks == below:  # at one level alone something may happen
                yield left.pop()


def _stretches(segment: Segment, scene: Scene) -> Iterator[tuple[_Stretch, int | None]]:
    """A segment between the levels in it, each stretch with the level beneath.

    What is said of the segment stands beside the longest.
    """
    levels = sorted({mark.ticks for mark in scene.marks}, reverse=True)
    within = [level for level in levels if _is_within(level, segment)]
    ends = [*pairwise([segment.end, *within, segment.start])]
    rows = [_rows_between(below, above, levels[0] - levels[-1]) for above, below in ends]
    words = short_words(segment, acts_in(scene.segments))
    if segment.start is not None and segment.start == segment.end:
        words = f"{range_words(segment, scene.units[0])}: {words}"
    longest = rows.index(max(rows))
    for index, ((_, below), count) in enumerate(zip(ends, rows, strict=True)):
        yield _Stretch(segment, count, words if index == longest else ""), below


def _is_within(level: int, segment: Segment) -> bool:
    after = segment.start is None or segment.start < level
    return after and (segment.end is None or level < segment.end)


def _rows_between(below: int | None, above: int | None, span: int) -> int:
    if below is None or above is None or not span:
        return 1
    return 1 + (above - below) * _MOST_ROWS // span
