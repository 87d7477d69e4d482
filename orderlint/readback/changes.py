"""What a setting that is not as ordered would do: where the controller would act otherwise.

Holds two tables of its behaviour side by side. Never words, and never makes a table.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.behaviour import behaviour_of
from orderlint.readback.comparing import DIFFERENCES, Outcome

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.behaviour import Behaviour, Segment
    from orderlint.order import Leaf
    from orderlint.readback.comparing import Row


class Stretch(NamedTuple):
    """A stretch of ICP, in ticks, on which the controller would not do what is ordered.

    Its ends are as those of a segment, which see; `ordered` and `seen` are the segments around it.
    """

    start: int | None
    start_included: bool
    end: int | None
    end_included: bool
    ordered: Segment
    seen: Segment


class Change(NamedTuple):
    """What one setting, as seen, would change if all else were as ordered.

    `lacking` are the settings for lack of which that cannot be said.
    """

    path: str
    stretches: tuple[Stretch, ...]
    lacking: tuple[str, ...]


def changes_of(
    rows: Iterable[Row], ordered: Mapping[str, Leaf], outflow: str | None
) -> tuple[Change, ...]:
    """The change that each difference makes, a rounded setting's among them."""
    plain = behaviour_of(ordered, outflow)
    found = []
    for row in rows:
        if row.outcome in DIFFERENCES or row.outcome is Outcome.ROUNDED:
            changed = behaviour_of({**ordered, row.path: row.seen}, outflow)
            lacking = tuple(dict.fromkeys((*plain.lacking, *changed.lacking)))
            stretches = () if lacking else tuple(stretches_of(plain, changed))
            found.append(Change(row.path, stretches, lacking))
    return tuple(found)


def stretches_of(ordered: Behaviour, seen: Behaviour) -> Iterator[Stretch]:
    """The stretches on which two whole tables say otherwise, from the lowest ICP to the highest."""
    open_one: Stretch | None = None
    for start, start_included, end, end_included, at in _cells(ordered, seen):
        one, other = _at(ordered, at), _at(seen, at)
        differs = _acts(one) != _acts(other)
        if open_one and not (differs and _same(open_one, one, other)):
            yield open_one
            open_one = None
        if differs:
            first = (open_one.start, open_one.start_included) if open_one else ()
            ends = (*(first or (start, start_included)), end, end_included)
            open_one = Stretch(*ends, one, other)
    if open_one:
        yield open_one


def _same(stretch: Stretch, one: Segment, other: Segment) -> bool:
    return (_acts(stretch.ordered), _acts(stretch.seen)) == (_acts(one), _acts(other))


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
