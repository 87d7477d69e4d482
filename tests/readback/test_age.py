"""How long ago settings were seen, in words that agree with whether that is too long."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.order import Leaf, Order
from orderlint.quantity_words import format_duration
from orderlint.readback import read_back
from orderlint.readback.observed import judge_entry, nothing_seen
from orderlint.report.words import instant_words
from orderlint.rulebook.load import load

BARE = {path: Leaf(path) for path in field_table().fields}
AT = 1_772_483_400_000
LONGEST = 30 * 60_000  # the built-in policy's 30 min


@pytest.mark.slow
@given(st.one_of(st.integers(LONGEST - 2_000, LONGEST + 60_000), st.integers(-5_000, 10**9)))
def test_the_age_is_said_to_the_millisecond(age):
    seen = nothing_seen("entries")
    leaf = judge_entry("seen_at", instant_words(AT - age), Place("entries", 1, 1)).leaf
    seen = Order("entries", {**seen.leaves, "seen_at": leaf}, (), seen.places)
    found = read_back(
        Order("order.yaml", BARE, ()), seen, AT, load("read-back")
    ).assessment.findings
    said = [finding.says for finding in found if finding.rule == "seen-too-old"]
    assert bool(said) == (not 0 <= age <= LONGEST)
    for words in said:
        when = f"{format_duration(age)} before" if age > 0 else "later than"
        assert f"were seen {when} they are compared, at {instant_words(AT - age)};" in words
        assert "seen 30 min before" not in words
