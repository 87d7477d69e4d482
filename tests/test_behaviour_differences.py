"""The stretches on which two tables of behaviour part, against both tables one pressure at a time.

What the controller does is common practice, no published source; tests/test_behaviour.py holds the
tables to it.
"""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st
from levels import ORDERED, THERAPIES, order_of

from orderlint.behaviour import behaviour_of, find_differences

ORDERS = st.builds(order_of, st.sampled_from(THERAPIES), ORDERED)


def holds(piece, at):
    """Whether a segment or stretch holds an ICP; in half ticks, so that each gap is tried."""
    above = piece.start is None or at > 2 * piece.start
    below = piece.end is None or at < 2 * piece.end
    at_start = piece.start_included and at == 2 * piece.start
    at_end = piece.end_included and at == 2 * piece.end
    return (above or at_start) and (below or at_end)


def acts(segment):
    return segment.irrigation, segment.valve, segment.outflow, segment.alarm


@given(ORDERS, ORDERS)
def test_a_stretch_says_what_either_table_says_there_and_none_is_left_out(first, second):
    tables = [behaviour_of(leaves, "gravity") for leaves in (first, second)]
    found = list(find_differences(*tables))
    ends = {s.end for table in tables for s in table.segments if s.end is not None}
    for at in sorted({2 * end + by for end in ends for by in (-1, 0, 1)}):
        said = [acts(next(s for s in table.segments if holds(s, at))) for table in tables]
        stretches = [(acts(s.one), acts(s.other)) for s in found if holds(s, at)]
        assert stretches == ([tuple(said)] if said[0] != said[1] else [])


@given(ORDERS, ORDERS)
def test_stretches_rise_and_two_that_meet_say_otherwise(first, second):
    """Else one difference would be told as two."""
    found = list(find_differences(*(behaviour_of(leaves, "gravity") for leaves in (first, second))))
    for lower, upper in pairwise(found):
        assert lower.end <= upper.start
        if lower.end == upper.start and (lower.end_included or upper.start_included):
            assert (acts(lower.one), acts(lower.other)) != (acts(upper.one), acts(upper.other))
