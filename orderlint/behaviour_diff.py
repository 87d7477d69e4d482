"""Compares two behaviour tables: the pressure intervals in which they differ.

Used by read-back and comparison of orders. Never words, and never makes a table.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, NamedTuple

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
    for (one, other), group in itertools.groupby(_cells(first, second), _actions):
        if one != other:
            lowest, *rest = group
            highest = [lowest, *rest][-1]
            yield highest._replace(start=lowest.start, start_included=lowest.start_included)


def _actions(cell: Difference) -> tuple[tuple[str | None, ...], ...]:
    """Return what each of the two tables prescribes in a cell."""
    return tuple((s.irrigation, s.valve, s.outflow, s.alarm) for s in (cell.one, cell.other))


def _cells(first: Behaviour, second: Behaviour) -> Iterator[Difference]:
    """Yield each segment end as a point and each open interval between, in which neither changes.

    INVARIANT: a complete table has at least one segment end, the lower pause limit.
    """
    tables = first, second
    marks = sorted({s.end for table in tables for s in table.segments if s.end is not None})
    yield Difference(None, False, marks[0], False, *(_at(t, 2 * marks[0] - 1) for t in tables))
    for mark, following in itertools.pairwise([*marks, None]):
        assert mark is not None
        yield Difference(mark, True, mark, True, *(_at(t, 2 * mark) for t in tables))
        yield Difference(mark, False, following, False, *(_at(t, 2 * mark + 1) for t in tables))


def _at(table: Behaviour, at: int) -> Segment:
    """Return the segment with this ICP in half ticks. INVARIANT: a table covers every ICP."""
    return next(s for s in table.segments if _reaches_to(s, at))


def _reaches_to(segment: Segment, at: int) -> bool:
    """True if the segment's upper end is at or above an ICP in half ticks."""
    if segment.end is None:
        return True
    return at <= 2 * segment.end if segment.end_included else at < 2 * segment.end
