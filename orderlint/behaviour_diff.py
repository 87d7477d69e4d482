"""Compares two behaviour tables: the pressure intervals in which they differ.

Used by read-back and comparison of orders. Never words, and never makes a table.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.behaviour import Behaviour, Segment


class Difference(NamedTuple):
    """A pressure interval, in ticks, in which two tables prescribe different actions.

    Both actions are constant in it. Bounds are as in `Segment`; `one` and `other` are the segments
    of the two tables that contain it.
    """

    start: int | None
    start_included: bool
    end: int | None
    end_included: bool
    one: Segment
    other: Segment


def find_differences(first: Behaviour, second: Behaviour) -> Iterator[Difference]:
    """Yield the intervals in which two complete tables differ, from the lowest ICP up."""
    open_one: Difference | None = None
    for start, start_included, end, end_included, at in _cells(first, second):
        one, other = _at(first, at), _at(second, at)
        differs = _actions_of(one) != _actions_of(other)
        if open_one and not (differs and _continues(open_one, one, other)):
            yield open_one
            open_one = None
        if differs:
            begun = (open_one.start, open_one.start_included) if open_one else ()
            ends = (*(begun or (start, start_included)), end, end_included)
            open_one = Difference(*ends, one, other)
    if open_one:
        yield open_one


def _continues(difference: Difference, one: Segment, other: Segment) -> bool:
    return (_actions_of(difference.one), _actions_of(difference.other)) == (
        _actions_of(one),
        _actions_of(other),
    )


def _actions_of(segment: Segment) -> tuple[str | None, ...]:
    return segment.irrigation, segment.valve, segment.outflow, segment.alarm


def _cells(*tables: Behaviour) -> Iterator[tuple[int | None, bool, int | None, bool, int]]:
    """Yield each segment end as a point and each open interval between, with an ICP in half ticks.

    INVARIANT: a complete table has at least one segment end, the lower pause limit.
    """
    ends = {s.end for table in tables for s in table.segments if s.end is not None}
    marks = sorted(ends)
    yield None, False, marks[0], False, 2 * marks[0] - 1
    for mark, following in zip(marks, [*marks[1:], None], strict=True):
        yield mark, True, mark, True, 2 * mark
        yield mark, False, following, False, 2 * mark + 1


def _at(table: Behaviour, at: int) -> Segment:
    """Return the segment with this ICP in half ticks. INVARIANT: a table covers every ICP."""
    return next(s for s in table.segments if _reaches_to(s, at))


def _reaches_to(segment: Segment, at: int) -> bool:
    """True if the segment's upper end is at or above an ICP in half ticks."""
    if segment.end is None:
        return True
    return at <= 2 * segment.end if segment.end_included else at < 2 * segment.end
