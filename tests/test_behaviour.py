"""The table of segments against the controller's table, asked one pressure at a time.

What the controller does is common practice, no published source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from levels import ORDERED, THERAPIES, leaves_of, order_of

from orderlint.behaviour import Segment, behaviour_of
from orderlint.order import Leaf, State

NEEDED = ("therapy", "pause.lower", "pause.upper", "treat_above")
HALF = Fraction(1, 2)


def due(therapy, icp, levels):
    """The controller's table, its first row that holds, at one pressure."""
    lower, upper, treat_above, height = levels
    irrigation = "on" if therapy == "irrigation" else "off"
    rows = (
        (icp < lower, "off", "closed", "low limit"),
        (icp > upper, "off", "open", "high limit"),
        (icp > treat_above, irrigation, "open", None),
        (True, "off", "closed", None),
    )
    _, irrigation, valve, alarm = next(row for row in rows if row[0])
    if therapy == "monitoring":
        return "off", "closed", "valve closed", alarm
    if valve == "closed":
        return irrigation, valve, "valve closed", alarm
    if height is None:
        return irrigation, valve, "not known", None
    return irrigation, valve, "possible by gravity" if icp > height else "none by gravity", None


def holds(segment: Segment, icp: Fraction) -> bool:
    after = segment.start is None or icp > segment.start
    before = segment.end is None or icp < segment.end
    at_start = segment.start_included and icp == segment.start
    at_end = segment.end_included and icp == segment.end
    return (after or at_start) and (before or at_end)


@given(st.sampled_from(THERAPIES), ORDERED, st.integers(-6, 6))
@example("irrigation", (2, 22, 8, 14), 0)
@example("irrigation", (22, 2, 8, 5), 10)
@example("drainage", (3, 3, 3, 3), 3)
@example("monitoring", (5, 5, 5, 5), 5)
def test_each_pressure_is_in_one_segment_that_says_what_the_table_says(therapy, levels, other):
    behaviour = behaviour_of(order_of(therapy, levels), "gravity")
    assert behaviour.missing == ()
    marks = {other, *(level for level in levels if level is not None)}
    for icp in {mark + beside for mark in marks for beside in (-1, -HALF, Fraction(0), HALF, 1)}:
        found = [segment for segment in behaviour.segments if holds(segment, icp)]
        said = [(s.irrigation, s.valve, s.outflow, s.alarm) for s in found]
        assert said == [due(therapy, icp, levels)]


@given(st.sampled_from(THERAPIES), ORDERED)
def test_segments_stand_in_order_without_gap_and_no_two_neighbours_do_the_same(therapy, levels):
    segments = behaviour_of(order_of(therapy, levels), "gravity").segments
    assert (segments[0].start, segments[0].start_included) == (None, False)
    assert (segments[-1].end, segments[-1].end_included) == (None, False)
    for segment in segments[1:-1]:
        point = segment.start == segment.end and segment.start_included and segment.end_included
        assert point or segment.start < segment.end
    for before, after in pairwise(segments):
        assert before.end == after.start
        assert before.end_included != after.start_included
        assert (before.irrigation, before.valve, before.outflow, before.alarm) != (
            after.irrigation,
            after.valve,
            after.outflow,
            after.alarm,
        )


def test_an_ordinary_order():
    # In whole mmHg, since only the order of levels counts.
    behaviour = behaviour_of(order_of("irrigation", (2, 22, 8, 5)), "gravity")
    assert behaviour.segments == (
        Segment(None, False, 2, False, "off", "closed", "valve closed", "low limit"),
        Segment(2, True, 8, True, "off", "closed", "valve closed", None),
        Segment(8, False, 22, True, "on", "open", "possible by gravity", None),
        Segment(22, False, None, False, "off", "open", "possible by gravity", None),
    )


def test_with_the_drain_above_the_treat_above_level_irrigation_has_no_way_out_at_first():
    behaviour = behaviour_of(order_of("irrigation", (2, 22, 8, 14)), "gravity")
    assert [(s.start, s.end, s.irrigation, s.outflow) for s in behaviour.segments[2:4]] == [
        (8, 14, "on", "none by gravity"),
        (14, 22, "on", "possible by gravity"),
    ]


@pytest.mark.parametrize("state", [State.ABSENT, State.UNREADABLE])
@pytest.mark.parametrize("path", NEEDED)
@pytest.mark.parametrize("therapy", THERAPIES)
def test_without_a_setting_there_is_no_table_and_the_setting_is_named(therapy, path, state):
    leaves = order_of(therapy, (2, 22, 8, 5)) | {path: Leaf(path, state)}
    behaviour = behaviour_of(leaves, "gravity")
    if therapy == "monitoring" and path == "treat_above":
        assert behaviour.missing == ()
        assert len(behaviour.segments) == 3
    else:
        assert behaviour.missing == (path,)
        assert behaviour.segments == ()


def test_an_empty_order_lacks_what_every_therapy_needs():
    assert behaviour_of(leaves_of(), "gravity").missing == NEEDED[:3]


@pytest.mark.parametrize("unknown", ["drainage.height", None])
def test_outflow_is_not_known_without_height_or_gravity(unknown):
    leaves = order_of("irrigation", (2, 22, 8, 5))
    if unknown:
        leaves |= {unknown: Leaf(unknown, State.UNREADABLE)}
    behaviour = behaviour_of(leaves, "gravity" if unknown else "pump")
    assert [(s.start, s.end, s.outflow) for s in behaviour.segments if s.valve == "open"] == [
        (8, 22, "not known"),
        (22, None, "not known"),
    ]
    assert behaviour_of(leaves, None).segments == behaviour.segments


@given(ORDERED)
def test_drainage_is_irrigation_with_the_irrigation_stopped(levels):
    def at(therapy: str, icp: Fraction) -> Segment:
        segments = behaviour_of(order_of(therapy, levels), "gravity").segments
        return next(segment for segment in segments if holds(segment, icp))

    for level in levels[:3]:
        for icp in (level - HALF, Fraction(level), level + HALF):
            wet, dry = at("irrigation", icp), at("drainage", icp)
            assert dry.irrigation == "off"
            assert (dry.valve, dry.outflow, dry.alarm) == (wet.valve, wet.outflow, wet.alarm)
