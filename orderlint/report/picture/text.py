"""Draws the picture of an order in characters, for a terminal.

Rows from the highest ICP down, never wider than the width given.
"""

from __future__ import annotations

import textwrap
from itertools import pairwise
from typing import TYPE_CHECKING

from orderlint.quantity_words import display_number
from orderlint.report.order.segment_words import opens_drain, range_words, short_words
from orderlint.report.picture.diagram import Diagram, normal_words
from orderlint.report.picture.segment_kinds import STYLES, kind_of
from orderlint.report.wrapping import wrap_paragraph
from orderlint.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.behaviour import Segment

NARROWEST = 70
"""Columns without which there is no room for a picture."""
_STROKES = {"pause.upper": "━", "pause.lower": "━", "treat_above": "─", "drainage.height": "╌"}
_AXIS, _STUB = 6, 2
"""How wide the axis is with its edges, and how far a level stands out on either side."""
_ACROSS = _AXIS + 2 * _STUB
_MOST_ROWS = 5
"""Rows beyond the first that the gap between the outermost levels takes."""


def picture_lines(diagram: Diagram, width: int) -> list[str]:
    """The picture in lines of at most `width` columns.

    None where there is no segment to draw, or no room.
    """
    if not diagram.segments or width < NARROWEST:
        return []
    numbers = [[display_number(in_unit(m.ticks, u)) for u in diagram.units] for m in diagram.marks]
    names = max(len(mark.name) for mark in diagram.marks)
    most = max(len(diagram.units[0]), *(len(first) for first, _ in numbers))
    start = 2 + names + 2 + most
    levels = [
        f"  {mark.name:<{names}}  {first:>{most}} {_STROKES[mark.path] * _ACROSS} {second}"
        for mark, (first, second) in zip(diagram.marks, numbers, strict=True)
    ]
    lines = [f"{diagram.units[0]:>{start}} {'':{_ACROSS}} {diagram.units[1]}"]
    for rows, sign, words, beneath in _parts_of_segments(diagram):
        lines += _rows(rows, sign, words, start + 1 + _STUB, width)
        lines += (levels.pop() for _ in range(beneath))
    return [*lines, *wrap_paragraph(_note(diagram), width, 2).split("\n")]


def _note(diagram: Diagram) -> str:
    normal = f"{normal_words(diagram.normal, diagram.units[0])}. " if diagram.normal else ""
    return f"{normal}Heights in this picture are not to scale."


def _rows(rows: int, sign: str, text: str, column: int, width: int) -> Iterator[str]:
    """The text stands in the middle of the rows, of which there are as many as it needs."""
    said = textwrap.wrap(text, width - column - _AXIS - _STUB - 1)
    count = max(rows, len(said))
    said = [""] * ((count - len(said)) // 2) + said
    bar = f"{'':{column}}│{sign * (_AXIS - 2)}│{'':{_STUB}} "
    yield from (f"{bar}{line}".rstrip() for line in said)
    yield from (bar.rstrip() for _ in range(count - len(said)))


def _parts_of_segments(diagram: Diagram) -> Iterator[tuple[int, str, str, int]]:
    """Split each segment at the levels within it, from the highest ICP down.

    Yields for each part its rows and character, its label, and the number of levels below it. The
    label of a segment is next to its longest part.
    """
    acts = opens_drain(diagram.segments)
    levels = [mark.ticks for mark in diagram.marks]
    for segment in reversed(diagram.segments):
        within = {level for level in levels if _is_within(level, segment)}
        ends = [*pairwise([segment.end, *sorted(within, reverse=True), segment.start])]
        rows = [_rows_between(below, above, diagram) for above, below in ends]
        said = [""] * len(rows)
        said[rows.index(max(rows))] = _said(segment, diagram, acts)
        for (_, below), count, text in zip(ends, rows, said, strict=True):
            beneath = levels.count(below) if below is not None else 0
            levels = [level for level in levels if level != below]
            yield count, STYLES[kind_of(segment, acts)].sign, text, beneath


def _said(segment: Segment, diagram: Diagram, acts: bool) -> str:
    """What happens, and at which ICP if it is at a single level."""
    words = short_words(segment, acts)
    if segment.start is None or segment.start != segment.end:
        return words
    return f"{range_words(segment, diagram.units[0])}: {words}"


def _is_within(level: int, segment: Segment) -> bool:
    after = segment.start is None or segment.start < level
    return after and (segment.end is None or level < segment.end)


def _rows_between(below: int | None, above: int | None, diagram: Diagram) -> int:
    span = diagram.marks[-1].ticks - diagram.marks[0].ticks
    if below is None or above is None or not span:
        return 1
    return 1 + (above - below) * _MOST_ROWS // span
