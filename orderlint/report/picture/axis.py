"""The pressure axis: computes the height of each pressure, to scale where every gap stays visible.

Heights are y, downwards. Never a label, and never what happens at a pressure.
"""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from orderlint.units import TICKS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orderlint.report.picture.diagram import Diagram

_LEAST, _MOST = 210, 320
"""Between the outermost levels; more than the least where that keeps the axis to scale."""
_THINNEST = 9
"""What lies between two levels is at least so high, so that its pattern can be seen."""
_SHORTEST = 10
"""In mmHg: what the room between the outermost levels shows, at least, if it is to scale."""


class Scale(NamedTuple):
    """The y of each pressure: for each knot, in ticks, the y of its lower and upper side.

    `per_tick` is how much higher a tick is, 0 where the axis is not to scale.
    """

    knots: dict[int, tuple[float, float]]
    per_tick: float


def scale_of(diagrams: Sequence[Diagram], foot: int, room: int) -> Scale:
    """Make the scale: linear if every gap between two levels is visible, else not to scale.

    `foot` is the y of the lowest level, `room` the height above it.
    """
    knots, points = _knots(diagrams), _points(diagrams)
    gaps = [after - before for before, after in pairwise(knots)]
    if not points and room >= _for_scale(diagrams):
        span = _span(knots)
        spare = (span - sum(gaps)) / 2
        places = (foot - (knot - knots[0] + spare) * room / span for knot in knots)
        return Scale({k: (y, y) for k, y in zip(knots, places, strict=True)}, room / span)
    return Scale(_shared(knots, gaps, points, foot, room), 0)


def _levels(diagrams: Sequence[Diagram]) -> list[int]:
    """The levels, the lowest first, each once."""
    return sorted({mark.ticks for diagram in diagrams for mark in diagram.marks})


def _knots(diagrams: Sequence[Diagram]) -> list[int]:
    """The levels and the ends of normal ranges, the lowest first, each once."""
    normal = (diagram.normal for diagram in diagrams if diagram.normal)
    return sorted({*_levels(diagrams), *(end for n in normal for end in (n.lowest, n.highest))})


def _points(diagrams: Sequence[Diagram]) -> set[int]:
    """The levels that are a segment of their own."""
    segments = (segment for diagram in diagrams for segment in diagram.segments)
    return {s.start for s in segments if s.start is not None and s.start == s.end}


def _span(knots: list[int]) -> int:
    return max(knots[-1] - knots[0], _SHORTEST * TICKS["pressure"]["mmHg"])


def _for_scale(diagrams: Sequence[Diagram]) -> float:
    """The height at which every gap between two levels is visible on an axis to scale."""
    gaps = [after - before for before, after in pairwise(_levels(diagrams))]
    return _THINNEST * _span(_knots(diagrams)) / min(gaps) if gaps else 0


def preferred_room(diagrams: Sequence[Diagram]) -> int:
    """The least height, or somewhat more if the axis can then be to scale."""
    needed = ceil(_for_scale(diagrams))
    return needed if _LEAST < needed <= _MOST and not _points(diagrams) else _LEAST


def _shared(
    knots: list[int], gaps: list[int], points: set[int], foot: int, room: int
) -> dict[int, tuple[float, float]]:
    """Give each gap the least height, and share the rest by the square root of its length.

    A level in `points` gets the least height too.
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


def middle_of(scale: Scale, ticks: int) -> int:
    """The y of a pressure: of a knot, or of the middle between the ends of the normal range."""
    if ticks in scale.knots:
        return round(sum(scale.knots[ticks]) / 2)
    below = max(knot for knot in scale.knots if knot < ticks)
    above = min(knot for knot in scale.knots if knot > ticks)
    share = (ticks - below) / (above - below)
    low, high = scale.knots[below][1], scale.knots[above][0]
    return round(low + (high - low) * share)
