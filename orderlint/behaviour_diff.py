"""Where two tables of the controller's behaviour prescribe different actions.

Read-back and comparison of orders use these. Never words, and never makes a table.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.behaviour import Behaviour, Segment


class Difference(NamedTuple):
    """A pressure interval, in ticks, in which the two tables prescribe different actions.

    The action of each table is the same throughout the interval.

    Its ends are as those of a segment, which see; `one` and `other` are the segments around it.
    """

    start: int | None
    start_included: bool
    end: int | None
    end_included: bool
    one: Segment
    other: Segment


def differences_of(first: Behaviour, second: Behaviour) -> Iterator[Difference]:
    """The intervals in which two complete tables differ, from the lowest ICP to the highest."""
    open_one: Difference | None = None
    for start, start_included, end, end_included, at in _cells(first, second):
        one, other = _at(first, at), _at(second, at)
        differs = _acts(one) != _acts(other)
        if open_one and not (differs and _same(open_one, one, other)):
            yield open_one
            open_one = None
        if differs:
            begun = (open_one.start, open_one.start_included) if open_one else ()
            ends = (*(begun or (start, start_included)), end, end_included)
            open_one = Difference(*ends, one, other)
    if open_one:
        yield open_one


def _same(stretch: Difference, one: Segment, other: Segment) -> bool:
    return (_acts(stretch.one), _acts(stretch.other)) == (_acts(one), _acts(other))


def _acts(segment: Segment) -> tuple[str | None, ...]:
    return segment.irrigation, segment.valve, segment.outflow, segment.alarm


def _cells(*tables: Behaviour) -> Iterator[tuple[int | None, bool, int | None, bool, int]]:
    """Each end of a segment as a point, each open stretch between, and an ICP in it in half ticks.

    INVARIANT: a whole table has an end of a segment, the lower pause limit.
    """
    ends = {s.end for table in tables for s in table.segments if s.end is not None}
    marks = sorted(ends)
    yield None, False, marks[0], False, 2 * marks[0] - 1
    for mark, following in zip(marks, [*marks[1:], None], strict=True):
        yield mark, True, mark, True, 2 * mark
        yield mark, False, following, False, 2 * mark + 1


def _at(table: Behaviour, at: int) -> Segment:
    """The segment that holds an ICP in half ticks. INVARIANT: a whole table leaves none out."""
    return next(s for s in table.segments if _reaches(s, at))


def _reaches(segment: Segment, at: int) -> bool:
    """Whether a segment's upper end is at or above an ICP in half ticks."""
    if segment.end is None:
        return True
    return at <= 2 * segment.end if segment.end_included else at < 2 * segment.end
