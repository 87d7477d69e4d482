"""The picture of a plan: every event in its lane and place, texts apart and in the frame."""

from __future__ import annotations

import functools
from itertools import combinations
from xml.etree import ElementTree

import pytest
from each_case import holds_of_each
from running import CLEAN

from orderlint.report.picture import plan_timeline as places
from orderlint.report.picture.labels import LINE, text_width
from orderlint.report.picture.plan_timeline import timeline_of, timeline_svg
from orderlint.rulebook.load import load
from orderlint.shift_plan import plan_of
from orderlint.verification import verify

START = 1_772_485_200_000  # 2026-03-02T15:00:00-06:00
EXAMPLES = sorted(
    path for path in CLEAN.parent.glob("*.yaml") if b"document: order\n" in path.read_bytes()
)


@functools.lru_cache(maxsize=2)
def verified(path, at):
    return verify(path.read_bytes(), path.name, at)


def plan(path=CLEAN, hours=24, start=START):
    return plan_of(verified(path, start), start, hours, -21_600, load("order").values["csf_rate"])


def boxes(timeline):
    for lane in timeline.lanes:
        first = lane.top + lane.height // 2 - LINE * len(lane.text) // 2
        for index, line in enumerate(lane.text):
            right = places.NAMES[1]
            y = first + LINE * index
            yield right - text_width(line), y, right, y + LINE
    for x, text in timeline.hours:
        half = text_width(text, 10) / 2
        yield x - half, 2, x + half, timeline.lanes[0].top - 6
    x = float(places.NAMES[0] + 8)
    for _, text in timeline.key:
        yield x - 5, timeline.bottom + 8, x + 9 + text_width(text), timeline.height
        x += text_width(text) + 26


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_texts_stand_apart_and_in_the_frame_for_any_hours(path):
    holds_of_each(
        (1, 5, 8, 24, 25, 72, 168), lambda hours: texts_stand_apart_in_the_frame(plan(path, hours))
    )


def texts_stand_apart_in_the_frame(made):
    timeline = timeline_of(made)
    if timeline is None:
        assert not made.events
        return
    found = list(boxes(timeline))
    for left, top, right, bottom in found:
        assert 0 <= left < right <= places.WIDTH
        assert 0 <= top < bottom <= timeline.height
    for one, other in combinations(found, 2):
        beside = one[2] <= other[0] or other[2] <= one[0]
        assert beside or one[3] <= other[1] or other[3] <= one[1], (one, other)
    ElementTree.fromstring(timeline_svg(timeline, "a"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_every_event_is_drawn_where_its_time_is(path):
    made = plan(path)
    timeline = timeline_of(made)
    left, right = places.CLOCK
    due = {left + round((e.at - START) * (right - left) / 86_400_000) for e in made.events}
    drawn = {x for lane in (timeline.lanes if timeline else ()) for x, _ in lane.marks}
    assert drawn == due
    assert all(left <= x <= right for x in drawn)


def test_the_clean_order():
    timeline = timeline_of(plan())
    assert [text for _, text in timeline.hours] == ["15:00", "21:00", "03:00", "09:00", "15:00"]
    signs = {" ".join(lane.text): [sign for _, sign in lane.marks] for lane in timeline.lanes}
    # 1000 mL at 60 mL/h: 80 % after 13 h 20 min, empty after 16 h 40 min.
    assert signs["irrigation bag, at the ordered rate"] == ["notice", "change"]
    assert len(signs["ICP check"]) in {24, 25}
    assert timeline.description[1] == f"ICP check: {len(signs['ICP check'])} times, 15:00 to 15:00."


def test_a_change_of_the_clock_is_drawn():
    # In 2026 clocks in Chicago go forward at 2:00 on 8 March (tz database).
    timeline = timeline_of(plan(start=1_772_942_400_000))
    assert len(timeline.changes) == 1
