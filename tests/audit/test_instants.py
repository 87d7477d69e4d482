"""Times read many at once are what the tool's reader makes of each."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import polars as pl
from drawing import most
from hypothesis import given
from hypothesis import strategies as st

from orderlint.audit.instants import InstantReader
from orderlint.audit.text_classes import MemoryBudget, TextClasses
from orderlint.audit.texts import read_cell

OFFSETS = st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))
PLAIN = st.datetimes(datetime(1899, 12, 30), datetime(2200, 1, 2), timezones=OFFSETS).map(
    lambda at: at.isoformat(timespec="seconds")
)
ODD = st.sampled_from(
    [
        "2026-03-02T14:10:00Z",
        "2026-02-30T14:10:00Z",
        "2026-03-02T24:00:00Z",
        "2026-03-02T14:10:60Z",
        "2026-03-02T14:10:00",
        " 2026-03-02T14:10:00Z ",
        "2026-03-02 14:10:00+01:00",
        "2026-03-02T14:10:00.250+01:00",
        "2026-03-02T14:10:00+25:00",
        "2026-03-02T14:10+01:00",
        "0000-01-01T00:00:00Z",
        "9999-12-31T23:59:59-01:00",
        "2026-03-02T14:10:00+00:00\n",
        "soon",
        " ",
        "\x00",
    ]
)


@most(60)
@given(st.lists(st.one_of(PLAIN, ODD), min_size=1, max_size=30, unique=True))
def test_each_time_is_read_as_it_is_alone(texts):
    classes = TextClasses("written", (), MemoryBudget(0))
    found = InstantReader(classes).read(pl.Series(texts, dtype=pl.String))
    for text, number, at in zip(texts, found["class"], found["number"], strict=True):
        alone, ours = read_cell("written", text), classes.readings[number]
        assert at == alone.leaf.value
        assert (ours.leaf.state, ours.refused) == (alone.leaf.state, alone.refused)
        assert [fault.rule for fault in ours.faults] == [fault.rule for fault in alone.faults]


def test_an_offset_is_as_it_is_written():
    reader = InstantReader(TextClasses("written", (), MemoryBudget(0)))
    at = datetime(2026, 3, 2, tzinfo=UTC).astimezone(timezone(timedelta(hours=5, minutes=30)))
    texts = [at.isoformat(), "2026-03-02T00:00:00Z", "2026-03-02T00:00:00.5-03:00", "no"]
    found = reader.read(pl.Series(texts))
    assert found["offset"].to_list() == [19_800, None, -10_800, None]
