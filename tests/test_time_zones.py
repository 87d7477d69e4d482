"""The list of time zones against the standard library's own reading of the IANA database."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orderlint.local_time import nearest_zone, zone_clock, zone_names
from orderlint.verification import verify

HEAD = "document: order\nformat: 1\n"


def test_the_list_is_that_of_the_standard_library():
    assert zone_names() <= available_timezones()
    for name in ("America/Chicago", "Europe/London", "UTC", "Etc/GMT+5", "EST5EDT"):
        assert name in zone_names()


def test_each_name_can_be_loaded():
    for name in zone_names():
        assert zone_clock(name).zone.key == name


@pytest.mark.parametrize(
    ("written", "near"),
    [
        ("chicago", "America/Chicago"),
        ("America/Chcago", "America/Chicago"),
        ("america/chicago", "America/Chicago"),
        ("New York", "America/New_York"),
        ("CST", None),
        ("the ward's", None),
        ("x" * 10_000, None),
    ],
)
def test_the_nearest_name(written, near):
    assert nearest_zone(written) == near


@pytest.mark.parametrize("written", ["chicago", "../UTC", '"a\\tb"', "localtime", "Factory", "é"])
def test_what_is_no_zone_is_a_finding(written):
    found = verify(f"{HEAD}zone: {written}\n".encode(), "order.yaml", 0)
    (finding,) = (f for f in found.assessment.findings if f.rule == "zone-not-known")
    assert (finding.place.line, finding.place.column) == (3, 7)
    assert finding.level.value == "clarify"


@pytest.mark.parametrize("written", ["America/Chicago", "' UTC '", ""])
def test_a_zone_or_none_is_no_finding(written):
    found = verify(f"{HEAD}zone: {written}\n".encode(), "order.yaml", 0)
    assert "zone-not-known" not in [f.rule for f in found.assessment.findings]


@pytest.mark.slow
@pytest.mark.parametrize(("zone", "lists"), [("", False), ("zone: America/Chicago\n", True)])
def test_only_an_order_with_a_zone_reads_the_list(zone, lists):
    code = (
        "import sys\n"
        "from orderlint.verification import verify\n"
        f"verify({(HEAD + zone).encode()!r}, 'order.yaml', 0)\n"
        "print(sorted({'orderlint.local_time', 'tzdata', 'zoneinfo'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert ran.stdout.strip() == str(["orderlint.local_time", "tzdata"] if lists else [])


IN_ZONES = ["America/Chicago", "Europe/Berlin", "Asia/Kolkata", "Australia/Lord_Howe", "UTC"]
OFFSETS = st.integers(-14 * 4, 14 * 4).map(lambda quarters: timedelta(minutes=15 * quarters))


@given(
    st.sampled_from(IN_ZONES),
    st.datetimes(datetime(1990, 1, 1), datetime(2037, 1, 1)),
    st.one_of(st.none(), OFFSETS),
)
def test_an_offset_is_the_zone_s_own_or_a_finding(zone, utc, offset):
    """Against the standard library's reading of the IANA database; no offset is the zone's own."""
    at = utc.replace(microsecond=0, tzinfo=UTC)
    there = at.astimezone(ZoneInfo(zone))
    written = there if offset is None else at.astimezone(timezone(offset))
    data = f"{HEAD}zone: {zone}\nstarts: {written.isoformat()}\n".encode()
    found = [
        f
        for f in verify(data, "order.yaml", 0).assessment.findings
        if f.rule == "offset-not-of-zone"
    ]
    assert bool(found) == (written.utcoffset() != there.utcoffset())
    assert all(f"{there.isoformat()} on the clock of {zone}" in f.says for f in found)
    assert all((f.place.line, f.place.column) == (4, 9) for f in found)


def test_a_time_that_the_clock_is_put_forward_past_is_said_to_be_none():
    data = f"{HEAD}zone: America/Chicago\nstarts: 2026-03-08T02:30:00-06:00\n".encode()
    (found,) = (
        f
        for f in verify(data, "order.yaml", 0).assessment.findings
        if f.rule == "offset-not-of-zone"
    )
    assert found.says.endswith("; that clock is put forward past 02:30.")
