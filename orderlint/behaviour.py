"""What the controller does at each pressure, as a table of segments, and where two tables differ.

The single source for report, picture, plan and read-back. Never wording, never a judgement of the
levels.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.order import Leaf

    Irrigation: TypeAlias = Literal["on", "off"]
    Valve: TypeAlias = Literal["open", "closed"]
    Outflow: TypeAlias = Literal[
        "possible by gravity", "none by gravity", "valve closed", "not known"
    ]
    Alarm: TypeAlias = Literal["low limit", "high limit"]


class Action(NamedTuple):
    """What the controller does at one ICP, as in `Segment`."""

    irrigation: Irrigation
    valve: Valve
    outflow: Outflow
    alarm: Alarm | None


class Segment(NamedTuple):
    """An ICP interval in which the controller's action is constant.

    `start` and `end` are ticks of pressure, None if unbounded; `*_included` says whether the bound
    belongs to the interval. `outflow` is what gravity can do, never whether a drain is patent.
    `alarm` is the limit of which staff are warned.
    """

    start: int | None
    start_included: bool
    end: int | None
    end_included: bool
    irrigation: Irrigation
    valve: Valve
    outflow: Outflow
    alarm: Alarm | None

    @property
    def action(self) -> Action:
        """What the controller does in the interval."""
        return Action(*self[4:])


class Behaviour(NamedTuple):
    """The segments from the lowest to the highest ICP; together they cover every ICP.

    `missing` has the paths of unknown settings that are needed; then there are no segments.
    """

    segments: tuple[Segment, ...]
    missing: tuple[str, ...]


class Difference(NamedTuple):
    """A pressure interval, in ticks, in which two tables prescribe different actions.

    Both actions are constant in it. Bounds are as in `Segment`; `one` and `other` are the segments
    of the two tables at its upper end.
    """

    start: int | None
    start_included: bool
    end: int | None
    end_included: bool
    one: Segment
    other: Segment


class _Levels(NamedTuple):
    """The levels in ticks. `drain` is None if the height of the drain is not known."""

    therapy: str
    lower: int
    upper: int
    treat_above: int | None
    drain: int | None


_BAND = ("therapy", "pause.lower", "pause.upper")


def behaviour_of(leaves: Mapping[str, Leaf], outflow: str | None) -> Behaviour:
    """Work out what the controller does at each ICP under an order with these leaves.

    `outflow` is how fluid leaves an open drain at this site; only `gravity` is supported. Levels
    may be in any order: the rules judge that.
    """
    therapy = leaves["therapy"].value
    needed = (*_BAND, "treat_above") if therapy in {"irrigation", "drainage"} else _BAND
    missing = tuple(path for path in needed if not leaves[path].known)
    if missing:
        return Behaviour((), missing)
    lower, upper = leaves["pause.lower"].number, leaves["pause.upper"].number
    assert lower is not None  # INVARIANT: a known quantity has ticks
    assert upper is not None
    treat_above = None if therapy == "monitoring" else leaves["treat_above"].number
    drain = leaves["drainage.height"].number if outflow == "gravity" else None
    settings = _Levels(str(therapy), lower, upper, treat_above, drain)
    return Behaviour(_segments(settings), ())


# Kept, as levels are round numbers that many orders have.
@functools.lru_cache(maxsize=1_024)
def _segments(settings: _Levels) -> tuple[Segment, ...]:
    """Join neighbouring cells in which the controller's action is the same."""
    found: list[Segment] = []
    cells = _cells((settings.lower, settings.upper, settings.treat_above, settings.drain))
    start, start_included, end, end_included, at = next(cells)
    action = _action(settings, at)
    for cell in cells:
        following = _action(settings, cell[-1])
        if following != action:
            found.append(Segment(start, start_included, end, end_included, *action))
            start, start_included, action = cell[0], cell[1], following
        _, _, end, end_included, _ = cell
    return (*found, Segment(start, start_included, None, False, *action))


def _cells(
    levels: Iterable[int | None],
) -> Iterator[tuple[int | None, bool, int | None, bool, int]]:
    """Yield each level as a point and each open interval between, with an ICP in half ticks.

    The first four members of a cell are those of a `Segment`. At least one level is not None.

    INVARIANT: twice a level is even and every point between two levels is odd, so "above" is
    decided in whole numbers, however close the levels are.
    """
    marks = sorted({level for level in levels if level is not None})
    yield None, False, marks[0], False, 2 * marks[0] - 1
    for mark, following in zip(marks, [*marks[1:], None], strict=True):
        yield mark, True, mark, True, 2 * mark
        yield mark, False, following, False, 2 * mark + 1


def _action(settings: _Levels, at: int) -> Action:
    """Return what the controller does at the ICP `at`, in half ticks.

    Source: common practice, no published source. If levels are out of order, below the lower limit
    takes precedence, then above the upper limit, then above the treat-above level.
    """
    irrigates = settings.therapy == "irrigation"
    if at < 2 * settings.lower:
        return Action("off", "closed", "valve closed", "low limit")
    if settings.treat_above is None:
        high = at > 2 * settings.upper
        return Action("off", "closed", "valve closed", "high limit" if high else None)
    if at > 2 * settings.upper:
        return Action("off", "open", _outflow(settings, at), None)
    if at > 2 * settings.treat_above:
        return Action("on" if irrigates else "off", "open", _outflow(settings, at), None)
    return Action("off", "closed", "valve closed", None)


def _outflow(settings: _Levels, at: int) -> Outflow:
    """An open drain lets fluid out only while ICP is above its height."""
    if settings.drain is None:
        return "not known"
    return "possible by gravity" if at > 2 * settings.drain else "none by gravity"


def find_differences(first: Behaviour, second: Behaviour) -> Iterator[Difference]:
    """Yield the intervals in which two complete tables differ, from the lowest ICP up."""
    open_one: Difference | None = None
    # INVARIANT: a complete table has at least one segment end, the lower pause limit.
    ends_of_both = (segment.end for table in (first, second) for segment in table.segments)
    for start, start_included, end, end_included, at in _cells(ends_of_both):
        one, other = _at(first, at), _at(second, at)
        differs, both = one.action != other.action, (one.action, other.action)
        if open_one and not (differs and both == (open_one.one.action, open_one.other.action)):
            yield open_one
            open_one = None
        if differs:
            begun = (open_one.start, open_one.start_included) if open_one else ()
            ends = (*(begun or (start, start_included)), end, end_included)
            open_one = Difference(*ends, one, other)
    if open_one:
        yield open_one


def _at(table: Behaviour, at: int) -> Segment:
    """Return the segment with this ICP in half ticks. INVARIANT: a table covers every ICP."""
    return next(s for s in table.segments if _reaches_to(s, at))


def _reaches_to(segment: Segment, at: int) -> bool:
    """True if the segment's upper end is at or above an ICP in half ticks."""
    if segment.end is None:
        return True
    return at <= 2 * segment.end if segment.end_included else at < 2 * segment.end
