"""Names of time zones, and instants as local time: in a zone, or at a fixed offset from UTC.

All of the tzdata package. Only the calendar: never what is due at a time.
"""

from __future__ import annotations

import functools
import os
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from itertools import pairwise
from typing import NamedTuple

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND = 1_000
_HOUR = 3_600 * _SECOND

# INVARIANT: one list on every machine, so that findings are the same everywhere. What a
# machine's own zone files add (localtime, another case) is not valid. Reading the list takes a
# millisecond; importing zoneinfo and loading a zone takes several.
_NO_PLACE = "Factory"
"""A listed name that means only that no zone was set."""


@functools.cache
def zone_names() -> frozenset[str]:
    """Return every zone name, aliases included."""
    import tzdata  # noqa: PLC0415 - not every order has a zone

    # INVARIANT: the package is installed as files, as zoneinfo's own fallback to it is tested.
    with open(os.path.join(os.path.dirname(tzdata.__file__), "zones"), encoding="ascii") as listed:
        return frozenset(listed.read().split()) - {_NO_PLACE}


def nearest_zone(text: str) -> str | None:
    """Return the zone whose name, or whose place name, is closest to `text`; None if none is."""
    from difflib import get_close_matches  # noqa: PLC0415 - only where a name is misspelt

    said = text.strip().replace(" ", "_").casefold()
    names = sorted(zone_names())
    places = {name.rpartition("/")[2].casefold(): name for name in names}
    whole = {name.casefold(): name for name in names}
    for named in (whole, places):
        close = get_close_matches(said[:60], named, n=1, cutoff=0.8)
        if close:
            return named[close[0]]
    return None


class Clock(NamedTuple):
    """A local clock. `name` is its zone's name, None for a fixed offset."""

    name: str | None
    zone: tzinfo


def zone_clock(name: str) -> Clock:
    """Return the clock of an IANA time zone, such as America/Chicago. KeyError if there is none."""
    if name not in zone_names():
        raise KeyError(name)
    return Clock(name, _zone(name))


@functools.cache
def _zone(name: str) -> tzinfo:
    from zoneinfo import ZoneInfo  # noqa: PLC0415 - not every order has a zone

    import tzdata  # noqa: PLC0415 - not every order has a zone

    # INVARIANT: read from tzdata, as the names are, so that a time is the same on every machine.
    rules = os.path.join(os.path.dirname(tzdata.__file__), "zoneinfo", *name.split("/"))
    with open(rules, "rb") as file:
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
