"""Where everything in the picture of an order stands: an axis of pressure, levels, segments.

Pure layout of a scene, y downwards. Never a format's words or signs, and never a judgement.
"""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.kinds import kind_of
from orderlint.report.labels import GAP, LINE, Label, stacked, wrapped
from orderlint.report.scene import ends_words, in_words
from orderlint.report.table import acts_in, short_words
from orderlint.units import TICKS, quantity_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.behaviour import Segment
    from orderlint.report.scene import Scene

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
"""Of their letters, where others are of 11."""
UNITS_LINE = 14
"""The line on which the names of the scales stand."""

_TOP, _BOTTOM = 22, 20
"""Room for the names of the scales, and for what is said beneath."""
_OPEN = 34
"""How far the axis goes on beyond the outermost levels."""
_LEAST, _MOST = 210, 320
"""Between the outermost levels; more than the least where that keeps the axis to scale."""
_THINNEST = 9
"""What lies between two levels is at least so high, so that its pattern can be seen."""
_SHORTEST = 10
"""In mmHg: what the room between the outermost levels shows, at least, if it is to scale."""
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


class Line(NamedTuple):
    """A level as it is drawn; `path` is its setting."""

    path: str
    y: int


class Number(NamedTuple):
    """A number of one of the scales: of the left, first unit, or of the right, second one."""

    text: str
    y: int
    left: bool


class Picture(NamedTuple):
    """All that is to be drawn, in a frame that begins at 0, 0.

    `normal` has the upper and the lower end of the normal range. `words` say all of it.
    """

    width: int
    height: int
    axis: tuple[int, int]
    bands: tuple[Band, ...]
    lines: tuple[Line, ...]
    normal: tuple[int, int] | None
    levels: tuple[Label, ...]
    segments: tuple[Label, ...]
    numbers: tuple[Number, ...]
    units: tuple[str, str]
    to_scale: bool
    words: tuple[str, ...]


class _Scale(NamedTuple):
    """Where pressures stand: of each knot its ticks and the y of its lower and upper side.

    `per_tick` is how much higher a tick is, 0 where the axis is not to scale.
    """

    knots: dict[int, tuple[float, float]]
    per_tick: float


def picture_of(scene: Scene) -> Picture:
    """The picture of a scene, tall enough for its labels."""
    texts = list(_level_texts(scene))
    acts = acts_in(scene.segments)
    said = [tuple(_lines(short_words(s, acts), RIGHT)) for s in reversed(scene.segments)]
    needed = max(_needed([lines for _, lines in texts]), _needed(said))
    room = max(needed, _preferred(scene) + 2 * _OPEN)
    top, bottom = _TOP, _TOP + room
    scale = _scale(scene, bottom - _OPEN, room - 2 * _OPEN)
    bands = tuple(_band(s, kind_of(s, acts), scale, top, bottom) for s in scene.segments)
    wanted = [(_middle(scale, ticks), lines) for ticks, lines in texts]
    levels = _labels(wanted, LEFT, top, bottom, end=True)
    middles = [(band.top + band.bottom) // 2 for band in reversed(bands)]
    lines = tuple(Line(mark.path, _middle(scale, mark.ticks)) for mark in scene.marks)
    return Picture(
        WIDTH,
        bottom + _BOTTOM,
        (top, bottom),
        bands,
        lines,
        _normal(scene, scale),
        levels,
        _labels(list(zip(middles, said, strict=True)), RIGHT, top, bottom, end=False),
        tuple(_numbers(scene, scale, (top, bottom), [line.y for line in lines])),
        scene.units,
        scale.per_tick > 0,
        tuple(in_words(scene)),
    )


def _normal(scene: Scene, scale: _Scale) -> tuple[int, int] | None:
    if scene.normal is None:
        return None
    return _middle(scale, scene.normal.highest), _middle(scale, scene.normal.lowest)


def _level_texts(scene: Scene) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Pressure and label of each level and of the normal range, the highest first."""
    texts = [
        (mark.ticks, (mark.name, *(quantity_words(mark.ticks, unit) for unit in scene.units)))
        for mark in reversed(scene.marks)
    ]
    if scene.normal:
        middle = (scene.normal.lowest + scene.normal.highest) // 2
        texts.append((middle, ("Normal ICP, lying", ends_words(scene.normal, scene.units[0]))))
    for ticks, parts in sorted(texts, key=lambda text: -text[0]):
        yield ticks, tuple(line for part in parts for line in _lines(part, LEFT))


def _lines(text: str, column: tuple[int, int]) -> Iterator[str]:
    return wrapped(text, column[1] - column[0])


def _needed(labels: Sequence[tuple[str, ...]]) -> int:
    return sum(LINE * len(lines) + GAP for lines in labels)


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


def _scale(scene: Scene, foot: int, room: int) -> _Scale:
    """To scale where every stretch between two levels can be seen; else each has its share.

    `foot` is where the lowest level stands, `room` what there is above it.
    """
    knots, points = _knots(scene), _points(scene)
    gaps = [after - before for before, after in pairwise(knots)]
    if not points and room >= _for_scale(scene):
        span = _span(knots)
        spare = (span - sum(gaps)) / 2
        places = (foot - (knot - knots[0] + spare) * room / span for knot in knots)
        return _Scale({k: (y, y) for k, y in zip(knots, places, strict=True)}, room / span)
    return _Scale(_shared(knots, gaps, points, foot, room), 0)


def _knots(scene: Scene) -> list[int]:
    """The levels and the ends of the normal range, the lowest first, each once."""
    normal = (scene.normal.lowest, scene.normal.highest) if scene.normal else ()
    return sorted({*(mark.ticks for mark in scene.marks), *normal})


def _points(scene: Scene) -> set[int]:
    """The levels at which alone something happens."""
    return {s.start for s in scene.segments if s.start is not None and s.start == s.end}


def _span(knots: list[int]) -> int:
    return max(knots[-1] - knots[0], _SHORTEST * TICKS["pressure"]["mmHg"])


def _for_scale(scene: Scene) -> float:
    """The room that it takes to see every stretch between two levels on an axis to scale."""
    levels = sorted({mark.ticks for mark in scene.marks})
    gaps = [after - before for before, after in pairwise(levels)]
    return _THINNEST * _span(_knots(scene)) / min(gaps) if gaps else 0


def _preferred(scene: Scene) -> int:
    """The least room, or somewhat more where that is what it takes to draw to scale."""
    needed = ceil(_for_scale(scene))
    return needed if _LEAST < needed <= _MOST and not _points(scene) else _LEAST


def _shared(
    knots: list[int], gaps: list[int], points: set[int], foot: int, room: int
) -> dict[int, tuple[float, float]]:
    """Each stretch as high as must be, and of the rest by the root of its length.

    A level at which alone something happens, one of `points`, is as high as it must be to be seen.
    """
    free = room - _THINNEST * (len(gaps) + len(points))
    roots = [gap**0.5 for gap in gaps]
    heights = [_THINNEST + free * root / sum(roots) for root in roots]
    places: dict[int, tuple[float, float]] = {}
    y = float(foot)
    for knot, height in zip(knots, [*heights, 0.0], strict=True):
        upper = y - _THINNEST if knot in points else y
        places[knot] = (y, upper)
        y = upper - height
    return places


def _middle(scale: _Scale, ticks: int) -> int:
    """The y of a pressure: of a knot, or of the middle between the ends of the normal range."""
    if ticks in scale.knots:
        return round(sum(scale.knots[ticks]) / 2)
    below = max(knot for knot in scale.knots if knot < ticks)
    above = min(knot for knot in scale.knots if knot > ticks)
    share = (ticks - below) / (above - below)
    low, high = scale.knots[below][1], scale.knots[above][0]
    return round(low + (high - low) * share)


def _band(segment: Segment, kind: str, scale: _Scale, top: int, bottom: int) -> Band:
    """INVARIANT: each end of a segment is a level that is written, hence a knot of the scale."""
    point = segment.start == segment.end
    low, high = bottom, top
    if segment.start is not None:
        low = round(scale.knots[segment.start][0 if point else 1])
    if segment.end is not None:
        high = round(scale.knots[segment.end][1 if point else 0])
    return Band(segment, kind, high, low)


def _numbers(
    scene: Scene, scale: _Scale, axis: tuple[int, int], lines: list[int]
) -> Iterator[Number]:
    """Round numbers of both scales, but for those that a level would strike through."""
    if not scale.per_tick:
        return
    knot, (y, _) = next(iter(scale.knots.items()))
    top, bottom = axis
    for unit, left in zip(scene.units, (True, False), strict=True):
        size = TICKS["pressure"][unit]
        step = next(step for step in _STEPS if step * size * scale.per_tick >= _APART)
        lowest = knot - int((bottom - LINE - y) / scale.per_tick)
        for count in range(-(-lowest // (step * size)), 10**6):
            at = round(y - (count * step * size - knot) * scale.per_tick)
            if at < top + LINE // 2:
                break
            if not left or all(abs(at - line) >= _CLEAR for line in lines):
                yield Number(str(count * step), at, left)
