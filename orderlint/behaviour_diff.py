"""Compares two behaviour tables: the pressure intervals in which they differ.

Used by read-back and comparison of orders. Never words, and never makes a table.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.behaviour import cells_between

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.behaviour import Behaviour, Segment


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


def find_differences(first: Behaviour, second: Behaviour) -> Iterator[Difference]:
    """Yield the intervals in which two complete tables differ, from the lowest ICP up."""
    open_one: Difference | None = None
    # INVARIANT: a complete table has at least one segment end, the lower pause limit.
    ends_of_both = (segment.end for table in (first, second) for segment in table.segments)
    for start, start_included, end, end_included, at in cells_between(ends_of_both):
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
