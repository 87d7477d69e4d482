"""Times about the changes of clocks, of zones whose changes and offsets are no whole hours."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from random import Random
from zoneinfo import ZoneInfo

import pytest
from audit.answers import audit, differences
from audit.counts import counted
from audit.files import written
from audit.tables import whole_row

ZONES = (
    "Australia/Lord_Howe", "Africa/Casablanca", "Asia/Kathmandu", "America/St_Johns", "Asia/Tehran",
    "Europe/Dublin", "Pacific/Apia", "Africa/Monrovia", "America/Caracas", "Antarctica/Troll",
    "Asia/Gaza", "Europe/Amsterdam", "America/Chicago", "UTC",
)  # fmt: skip
YEARS = (1901, 1937, 1945, 1972, 1986, 2007, 2016, 2018, 2026, 2026, 2038, 2100)
BESIDE = (0, -1, 1, -3600, 3600, -86400, 86400, -1800, 1800, -1799, 43200)
HOUR, SECOND = timedelta(hours=1), timedelta(seconds=1)


def changes(zone: ZoneInfo, year: int) -> list[datetime]:
    """The instants of a year at which the clock of a zone changes; else its first."""
    first = datetime(year, 1, 1, tzinfo=UTC)
    hours = [first + number * 6 * HOUR for number in range(366 * 4)]
    pairs = [pair for pair in pairwise(hours) if _differ(zone, *pair)]
    return [_between(zone, *pair) for pair in pairs] or [first]


def _differ(zone: ZoneInfo, one: datetime, other: datetime) -> bool:
    return one.astimezone(zone).utcoffset() != other.astimezone(zone).utcoffset()


def _between(zone: ZoneInfo, before: datetime, after: datetime) -> datetime:
    while after - before > SECOND:
        middle = before + (after - before) / 2
        before, after = (before, middle) if _differ(zone, before, middle) else (middle, after)
    return after.replace(microsecond=0)


def text(chance: Random, at: datetime, zone: ZoneInfo) -> str:
    """An instant with the offset of its zone, to the minute, or now and then with another."""
    other = chance.choice((at, at, at, at + 2 * HOUR, at - 2 * HOUR))
    offset = other.astimezone(zone).utcoffset() or timedelta()
    minutes = offset // timedelta(minutes=1) + chance.choice((0, 0, 0, 0, 0, 0, 0, 30, 60))
    return at.astimezone(timezone(timedelta(minutes=minutes))).isoformat(chance.choice("TT "))


def row(number: int) -> dict[str, str | None]:
    chance = Random(number)
    zone = ZoneInfo(chance.choice(ZONES))
    change = chance.choice(changes(zone, chance.choice(YEARS)))
    cells: dict[str, str | None] = {"zone": zone.key}
    for path in ("written", "starts", "review_by"):
        cells[path] = text(chance, change + chance.choice(BESIDE) * SECOND, zone)
    if number % 3 == 0:
        start = change - chance.randrange(24) * HOUR
        cells |= {"starts": text(chance, start, zone)}
        cells |= {"review_by": text(chance, start + timedelta(days=1), zone)}
    return whole_row(cells, number, None)


@pytest.mark.parametrize("count", [12, pytest.param(2_000, marks=pytest.mark.deep)])
def test_offsets_and_clocks_put_back_are_those_of_verify(count, tmp_path):
    rows = [row(number) for number in range(count)]
    truth = counted(rows)
    assert truth["rule", "offset-not-of-zone", "broken"]
    assert truth["rule", "offset-not-of-zone", "kept"]
    assert differences(audit(*written(rows, tmp_path, "parquet")), truth) == {}
