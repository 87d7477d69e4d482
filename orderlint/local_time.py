"""Converts instants to local time, in a time zone or at a fixed offset from UTC.

Only the calendar. Never what is due at a time.
"""

from __future__ import annotations

import functools
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from orderlint.time_zones import zone_file, zone_names

if TYPE_CHECKING:
    from datetime import tzinfo

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND = 1_000
_HOUR = 3_600 * _SECOND


class Clock(NamedTuple):
    """A local clock. `name` is its zone's name, None for a fixed offset."""

    name: str | None
    zone: tzinfo


def zone_clock(name: str) -> Clock | None:
    """Return the clock of an IANA time zone, such as America/Chicago; None if there is none."""
    return Clock(name, _zone(name)) if name in zone_names() else None


@functools.cache
def _zone(name: str) -> tzinfo:
    from zoneinfo import ZoneInfo  # noqa: PLC0415 - not every order has a zone

    # INVARIANT: read from tzdata, as the names are, so that a time is the same on every machine.
    with open(zone_file(name), "rb") as file:
        return ZoneInfo.from_file(file, name)


def fixed_clock(seconds: int) -> Clock:
    """Return a clock `seconds` ahead of UTC (behind if negative); less than a day."""
    return Clock(None, timezone(timedelta(seconds=seconds)))


def wall_time(clock: Clock, at: int) -> datetime:
    """Convert an instant, in milliseconds since 1970 UTC, to local time."""
    return (_EPOCH + timedelta(milliseconds=at)).astimezone(clock.zone)


def utc_offset(clock: Clock, at: int) -> timedelta:
    """The offset from UTC that a clock has at an instant, in milliseconds since 1970 UTC."""
    return wall_time(clock, at).utcoffset() or timedelta()


def format_time(moment: datetime) -> str:
    """Format a time exactly, as 04:20, or 04:20:30 if the minute is not whole."""
    part = "milliseconds" if moment.microsecond else "seconds" if moment.second else "minutes"
    return moment.time().isoformat(part)


def is_valid_local_time(clock: Clock, moment: datetime) -> bool:
    """True if the date and time of `moment`, whatever its offset, occurs on the clock.

    Times skipped when the clock is put forward do not occur.
    """
    wall = moment.replace(tzinfo=None)
    there = wall.replace(tzinfo=clock.zone).astimezone(UTC).astimezone(clock.zone)
    return there.replace(tzinfo=None) == wall


def clock_changes(clock: Clock, start: int, end: int) -> tuple[int, ...]:
    """Return the instants after `start` and up to `end` at which the offset changes.

    INVARIANT: no zone changes its offset twice within an hour.
    """
    marks = [*range(start, end, _HOUR), end]
    return tuple(
        _between(clock, before, after)
        for before, after in pairwise(marks)
        if utc_offset(clock, before) != utc_offset(clock, after)
    )


def _between(clock: Clock, before: int, after: int) -> int:
    """Return the first whole second, between two instants, at which the later offset holds."""
    low, high = before // _SECOND, -(-after // _SECOND)
    while high - low > 1:
        middle = (low + high) // 2
        if utc_offset(clock, middle * _SECOND) == utc_offset(clock, before):
            low = middle
        else:
            high = middle
    return high * _SECOND
