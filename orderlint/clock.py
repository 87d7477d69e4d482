"""Instants → times on the wall, in a zone or at a fixed offset from UTC.

Only the calendar. Never what is to happen at a time.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from typing import TYPE_CHECKING

from orderlint.zones import zone_file, zone_names

if TYPE_CHECKING:
    from datetime import tzinfo

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND = 1_000
_HOUR = 3_600 * _SECOND


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock on the wall. `name` is that of its zone, None where it has a fixed offset."""

    name: str | None
    zone: tzinfo


def zone_clock(name: str) -> Clock | None:
    """The clock of a zone of the IANA database, such as America/Chicago; None if it has none."""
    return Clock(name, _zone(name)) if name in zone_names() else None


@functools.cache
def _zone(name: str) -> tzinfo:
    from zoneinfo import ZoneInfo  # noqa: PLC0415 - not every order has a zone

    # INVARIANT: read from tzdata, as the names are, so that a time is the same on every machine.
    with zone_file(name).open("rb") as file:
        return ZoneInfo.from_file(file, name)


def fixed_clock(seconds: int) -> Clock:
    """The clock that is always `seconds` ahead of UTC, behind it if negative; less than a day."""
    return Clock(None, timezone(timedelta(seconds=seconds)))


def wall_time(clock: Clock, at: int) -> datetime:
    """What the clock shows at an instant, in milliseconds since 1970 UTC."""
    return (_EPOCH + timedelta(milliseconds=at)).astimezone(clock.zone)


def format_time(moment: datetime) -> str:
    """What a clock shows, exactly, as in 04:20, or 04:20:30 where the minute is not whole."""
    part = "milliseconds" if moment.microsecond else "seconds" if moment.second else "minutes"
    return moment.time().isoformat(part)


def is_valid_local_time(clock: Clock, moment: datetime) -> bool:
    """Whether the clock ever shows the date and time of `moment`, whatever its offset.

    What it is put forward past is never shown.
    """
    wall = moment.replace(tzinfo=None)
    there = wall.replace(tzinfo=clock.zone).astimezone(UTC).astimezone(clock.zone)
    return there.replace(tzinfo=None) == wall


def clock_changes(clock: Clock, start: int, end: int) -> tuple[int, ...]:
    """The instants after `start` and up to `end` from which the clock is put forward or back.

    INVARIANT: no zone changes its clock twice within an hour.
    """
    marks = [*range(start, end, _HOUR), end]
    return tuple(
        _between(clock, before, after)
        for before, after in pairwise(marks)
        if _offset(clock, before) != _offset(clock, after)
    )


def _offset(clock: Clock, at: int) -> timedelta | None:
    return wall_time(clock, at).utcoffset()


def _between(clock: Clock, before: int, after: int) -> int:
    """The first whole second at which the offset of `after` holds."""
    low, high = before // _SECOND, -(-after // _SECOND)
    while high - low > 1:
        middle = (low + high) // 2
        if _offset(clock, middle * _SECOND) == _offset(clock, before):
            low = middle
        else:
            high = middle
    return high * _SECOND
