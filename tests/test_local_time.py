"""Wall times against the IANA database and arithmetic in UTC."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st

from orderlint.local_time import (
    clock_changes,
    fixed_clock,
    is_valid_local_time,
    wall_time,
    zone_clock,
)

HOUR = 3_600_000
# Zone, instant of the change in UTC, offsets in hours before and after. From the published rules:
# the United States change at 02:00 local time on the second Sunday of March and the first of
# November, the United Kingdom at 01:00 UTC on the last Sundays of March and October.
KNOWN = [
    ("America/Chicago", "2026-11-01T07:00:00+00:00", -5, -6),
    ("America/Chicago", "2026-03-08T08:00:00+00:00", -6, -5),
    ("Europe/London", "2026-03-29T01:00:00+00:00", 0, 1),
    ("Europe/London", "2026-10-25T01:00:00+00:00", 1, 0),
]


def instant(text):
    return int(datetime.fromisoformat(text).timestamp()) * 1000


@pytest.mark.parametrize(("name", "text", "before", "after"), KNOWN)
def test_a_change_of_the_clock_is_found_to_the_second(name, text, before, after):
    clock = zone_clock(name)
    at = instant(text)
    for start, hours in ((at - 9 * HOUR, 24), (at - HOUR, 1), (at - 1000, 1), (at - HOUR // 2, 1)):
        assert clock_changes(clock, start, start + hours * HOUR) == (at,)
    assert clock_changes(clock, at, at + 24 * HOUR) == ()
    assert clock_changes(clock, at - 24 * HOUR, at - 1000) == ()
    assert wall_time(clock, at - 1).utcoffset() == timedelta(hours=before)
    assert wall_time(clock, at).utcoffset() == timedelta(hours=after)


@given(
    st.sampled_from(["America/Chicago", "Europe/London", "Asia/Kolkata", "Australia/Lord_Howe"]),
    st.integers(0, 7_258_118_400_000),
)
def test_wall_time_is_utc_in_the_zone(name, at):
    due = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at)
    found = wall_time(zone_clock(name), at)
    assert found == due
    assert found.replace(tzinfo=None) == due.astimezone(ZoneInfo(name)).replace(tzinfo=None)


@given(st.integers(0, 7_258_118_400_000), st.integers(-86_399, 86_399))
def test_a_fixed_clock_never_changes(at, offset):
    clock = fixed_clock(offset)
    shown = wall_time(clock, at).replace(tzinfo=UTC)
    assert shown == datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at, seconds=offset)
    assert clock_changes(clock, at, at + 24 * HOUR) == ()


@pytest.mark.parametrize(("name", "text"), [known[:2] for known in KNOWN])
def test_what_a_clock_is_put_forward_past_it_never_shows(name, text):
    """By looking at the clock in each minute of the three hours around a change."""
    clock, at = zone_clock(name), instant(text)
    minutes = range(at - 3 * HOUR, at + 3 * HOUR, 60_000)
    shown = {wall_time(clock, minute).replace(tzinfo=None) for minute in minutes}
    first, last = min(shown), max(shown)
    walls = [first + timedelta(minutes=m) for m in range((last - first) // timedelta(minutes=1))]
    assert [wall for wall in walls if not is_valid_local_time(clock, wall)] == [
        wall for wall in walls if wall not in shown
    ]


@pytest.mark.parametrize("name", ["UTC", "Etc/GMT+5", "America/Argentina/Ushuaia", "EST5EDT"])
def test_names_of_zones(name):
    assert zone_clock(name).name == name


@of_each(
    "name",
    [
        *("", "America", "America/", "America/Chcago", "Middle/Earth", "chicago", "CST"),
        *("../UTC", "/etc/passwd", "America/../UTC", "a\0b", "America/Chicago\n", "é", "a" * 300),
        *("localtime", "posixrules", "Factory", "right/UTC", "posix/UTC", "tzdata.zi", "zone.tab"),
        "\ud800",
    ],
)
def test_what_is_no_zone(name):
    with pytest.raises(KeyError):
        zone_clock(name)
