"""The list of time zones against the standard library's own reading of the IANA database."""

from __future__ import annotations

import subprocess
import sys
from zoneinfo import ZoneInfo, available_timezones

import pytest

from orderlint.clock import zone_clock
from orderlint.verify import verify
from orderlint.zones import nearest_zone, zone_names

HEAD = "document: order\nformat: 1\n"


def test_the_list_is_that_of_the_standard_library():
    assert zone_names() <= available_timezones()
    for name in ("America/Chicago", "Europe/London", "UTC", "Etc/GMT+5", "EST5EDT"):
        assert name in zone_names()


def test_each_name_can_be_loaded():
    for name in zone_names():
        assert zone_clock(name).zone is ZoneInfo(name)


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
    (finding,) = (f for f in found.findings if f.rule == "zone-not-known")
    assert (finding.place.line, finding.place.column) == (3, 7)
    assert finding.level.value == "clarify"


@pytest.mark.parametrize("written", ["America/Chicago", "' UTC '", ""])
def test_a_zone_or_none_is_no_finding(written):
    found = verify(f"{HEAD}zone: {written}\n".encode(), "order.yaml", 0)
    assert "zone-not-known" not in [f.rule for f in found.findings]


@pytest.mark.parametrize(("zone", "lists"), [("", False), ("zone: America/Chicago\n", True)])
def test_only_an_order_with_a_zone_reads_the_list(zone, lists):
    code = (
        "import sys\n"
        "from orderlint.verify import verify\n"
        f"verify({(HEAD + zone).encode()!r}, 'order.yaml', 0)\n"
        "print(sorted({'orderlint.zones', 'tzdata', 'zoneinfo'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert ran.stdout.strip() == str(["orderlint.zones", "tzdata"] if lists else [])
