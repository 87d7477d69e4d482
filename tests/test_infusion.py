"""Rates, bags and volumes against hand arithmetic, and against a walk minute by minute."""

from __future__ import annotations

import re
from datetime import timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from facts import fact
from hypothesis import given
from hypothesis import strategies as st

from orderlint.infusion import (
    DAY,
    HOUR,
    MINUTE,
    NOTICE,
    SHIFT,
    Bag,
    RateStep,
    add_flow,
    constant_rate,
    daily_limit_times,
    hang_bags,
    highest_rate,
    split_into,
    time_to_volume,
    titrated_rate,
    volume_run,
)

ML = 1_000  # ticks
RISING = titrated_rate(60 * ML, 10 * ML, 2 * HOUR, 90 * ML, DAY)


def after(hours=0, minutes=0, seconds=0):
    return hours * HOUR + minutes * MINUTE + seconds * 1000


def to_minute(time):
    """Nearest minute, as hours and minutes after the start."""
    return divmod(round(time / MINUTE), 60)


def test_spans_of_time_are_counted_in_milliseconds():
    # Three shifts a day: common practice, no published source.
    day = timedelta(days=1)
    lengths = (day / 1440, day / 24, day / 3, day)
    assert [length / timedelta(milliseconds=1) for length in lengths] == [MINUTE, HOUR, SHIFT, DAY]


def test_the_notice_is_at_80_percent_of_the_bag():
    # Common practice, no published source.
    assert "at 80 %" in fact("controller", "bag notice")["value"]
    assert Fraction(80, 100) == NOTICE


def test_a_day_at_a_steady_rate():
    # Computed: 24 h at 3 / 20 / 90 / 180 mL/h.
    row = fact("controller", "volumes")
    rates, due = (re.findall(r"\d+", part) for part in row["value"].removeprefix("24 h").split("="))
    found = [volume_run(constant_rate(int(rate) * ML), 0, DAY) / ML for rate in rates]
    assert found == [int(millilitres) for millilitres in due]


def test_a_bag_of_1000_ml_at_60_ml_an_hour():
    # By hand: 800 / 60 = 13 h 20 min, 1000 / 60 = 16 h 40 min: from 15:00 at 04:20 and 07:40.
    first, second = hang_bags(constant_rate(60 * ML), 1000 * ML, None, DAY)
    assert first == Bag(1, Fraction(0), after(13, 20), after(16, 40), empties=True)
    assert second == Bag(2, after(16, 40), after(30), after(33, 20), empties=True)


def test_the_same_bag_with_titration_as_early_as_may_be():
    # By hand: 60, 70, 80 mL/h for 2 h each give 420 mL; then (800-420)/90 h and (1000-420)/90 h.
    first = hang_bags(RISING, 1000 * ML, None, DAY)[0]
    assert first.notice == after(6) + Fraction(380, 90) * HOUR
    assert first.over == after(6) + Fraction(580, 90) * HOUR
    assert to_minute(first.notice) == (10, 13)  # 01:13 from 15:00
    assert to_minute(first.over) == (12, 27)  # 03:27 from 15:00


def test_a_collection_bag_of_700_ml():
    # By hand: 700 / 80 = 8 h 45 min; rising, 80 + 90 mL/h ... 540 mL in 6 h, then 160 / 110 h.
    full = hang_bags(add_flow(constant_rate(60 * ML), 20 * ML), 700 * ML, None, DAY)[0].over
    assert full == after(8, 45)
    early = hang_bags(add_flow(RISING, 20 * ML), 700 * ML, None, DAY)[0].over
    assert early == after(6) + Fraction(160, 110) * HOUR
    assert to_minute(early) == (7, 27)


def test_steps_of_titration():
    assert (
        tuple(RateStep(2 * index * HOUR, rate * ML) for index, rate in enumerate((60, 70, 80, 90)))
        == RISING
    )
    # Only whole steps are ordered: 60, 85, and none of 5 to 90.
    assert titrated_rate(60, 25, HOUR, 90, DAY) == (RateStep(0, 60), RateStep(HOUR, 85))
    assert titrated_rate(60, 31, HOUR, 90, DAY) == constant_rate(60)
    # A step at the very end still counts; none does after it.
    assert len(titrated_rate(60, 1, HOUR, 90, 3 * HOUR)) == 4
    assert len(titrated_rate(60, 1, HOUR, 90, 3 * HOUR - 1)) == 3
    assert titrated_rate(60, 10, HOUR, 60, DAY) == constant_rate(60)
    assert titrated_rate(60, 1, 1, 62, 2) == (RateStep(0, 60), RateStep(1, 61), RateStep(2, 62))


def test_steps_of_a_titration_that_has_run_for_a_while():
    # By hand: every 2 h from 60 by 10. After 3 h one step is taken, and the next is due in 1 h.
    assert titrated_rate(60, 10, 2 * HOUR, 90, DAY, 3 * HOUR) == (
        RateStep(0, 70),
        RateStep(HOUR, 80),
        RateStep(3 * HOUR, 90),
    )
    # What is due at the start itself has been taken; and no more than there is room for.
    assert titrated_rate(60, 10, 2 * HOUR, 80, DAY, 2 * HOUR) == (
        RateStep(0, 70),
        RateStep(2 * HOUR, 80),
    )
    assert titrated_rate(60, 10, 2 * HOUR, 90, DAY, DAY) == constant_rate(90)
    # A rate above the most it may be raised to stays as it is ordered.
    assert titrated_rate(100, 10, 2 * HOUR, 90, DAY, 3 * HOUR) == constant_rate(100)


@pytest.mark.parametrize(
    ("step", "every", "running"), [(0, 1, 0), (1, 0, 0), (-1, 1, 0), (1, -1, 0), (1, 1, -1)]
)
def test_a_titration_without_a_step_or_an_interval_is_none(step, every, running):
    with pytest.raises(ValueError, match="above zero"):
        titrated_rate(60, step, every, 90, DAY, running)


@pytest.mark.parametrize(("size", "every"), [(0, None), (-1, None), (1, 0), (1, -1)])
def test_a_bag_without_a_volume_or_an_interval_is_none(size, every):
    with pytest.raises(ValueError, match="above zero"):
        hang_bags(constant_rate(60), size, every, DAY)


@pytest.mark.parametrize(
    "call",
    [
        lambda: constant_rate(-1),
        lambda: RateStep(-1, 60),
        lambda: add_flow(constant_rate(60), -61),
        lambda: titrated_rate(-1, 10, HOUR, 90, DAY),
        lambda: hang_bags(add_flow(constant_rate(60), -(10**30)), 1000 * ML, None, DAY),
        lambda: time_to_volume(constant_rate(60), -1),
        lambda: time_to_volume(constant_rate(60), 1, -1),
        lambda: daily_limit_times(constant_rate(60), -1, DAY),
    ],
)
def test_nothing_runs_backwards_and_no_reckoning_is_without_end(call):
    with pytest.raises(ValueError, match="below zero"):
        call()


def test_the_smallest_bag_and_the_shortest_interval_are_bags_all_the_same():
    assert len(hang_bags(constant_rate(HOUR), 1, None, 1)) == 2
    assert len(hang_bags(constant_rate(1), 1, 1, 1)) == 2


def test_a_bag_that_is_never_empty_has_its_notice_all_the_same():
    stopping = (RateStep(0, 90), RateStep(HOUR, 0))
    assert hang_bags(stopping, 100, None, DAY) == (
        Bag(1, Fraction(0), Fraction(80, 90) * HOUR, None, empties=False),
    )


def test_an_absurd_rate_is_reckoned_exactly():
    assert time_to_volume(constant_rate(10**30), 1) == Fraction(HOUR, 10**30)
    assert add_flow(constant_rate(60), -60) == constant_rate(0)


def test_a_bag_is_changed_by_the_clock_or_when_it_is_empty_whichever_is_earlier():
    by_clock = hang_bags(constant_rate(20 * ML), 1000 * ML, DAY, 2 * DAY - 1)
    assert by_clock == (
        Bag(1, Fraction(0), None, Fraction(DAY), empties=False),
        Bag(2, Fraction(DAY), None, Fraction(2 * DAY), empties=False),
    )
    # Empty just when it is due: it is empty.
    assert hang_bags(constant_rate(100 * ML), 1000 * ML, 10 * HOUR, HOUR)[0].empties
    assert not hang_bags(constant_rate(100 * ML), 1000 * ML, 10 * HOUR - 1, HOUR)[0].empties
    # The notice would come just at the change, or a moment before it.
    assert hang_bags(constant_rate(100 * ML), 1000 * ML, 8 * HOUR, HOUR)[0].notice is None
    assert hang_bags(constant_rate(100 * ML), 1000 * ML, 8 * HOUR + 1, HOUR)[0].notice == 8 * HOUR


def test_a_bag_at_no_rate_lasts_for_good_unless_the_clock_changes_it():
    assert hang_bags(constant_rate(0), 1000 * ML, None, DAY) == (
        Bag(1, Fraction(0), None, None, False),
    )
    assert [bag.over for bag in hang_bags(constant_rate(0), 1000 * ML, DAY, DAY)] == [DAY, 2 * DAY]


def test_a_bag_due_just_at_the_end_is_among_them():
    assert len(hang_bags(constant_rate(100 * ML), 1000 * ML, None, 20 * HOUR - 1)) == 2
    assert len(hang_bags(constant_rate(100 * ML), 1000 * ML, None, 20 * HOUR)) == 3


def test_spans():
    assert split_into(SHIFT, DAY) == ((0, SHIFT), (SHIFT, 2 * SHIFT), (2 * SHIFT, DAY))
    assert split_into(SHIFT, 10 * HOUR) == ((0, SHIFT), (SHIFT, 10 * HOUR))
    assert split_into(DAY, HOUR) == ((0, HOUR),)


def test_the_daily_limit():
    # By hand: 90 mL/h reaches 2000 mL after 22 h 13 min 20 s, each day anew.
    at = Fraction(2000, 90) * HOUR
    assert daily_limit_times(constant_rate(90 * ML), 2000 * ML, 2 * DAY) == (at, DAY + at)
    assert daily_limit_times(constant_rate(90 * ML), 2000 * ML, 22 * HOUR) == ()
    # 24 h at the rate is just the limit: it is not passed.
    assert daily_limit_times(constant_rate(60 * ML), 1440 * ML, 2 * DAY) == ()
    assert daily_limit_times(constant_rate(60 * ML), 1440 * ML - 1, DAY) != ()
    assert daily_limit_times(constant_rate(0), 1, DAY) == ()
    assert daily_limit_times(constant_rate(60 * ML), 0, DAY) == (0,)


COURSES = st.lists(st.tuples(st.integers(1, 5), st.integers(0, 7)), min_size=1, max_size=6).map(
    lambda steps: tuple(
        RateStep(sum(length for length, _ in steps[:index]) * HOUR, rate * ML)
        for index, (_, rate) in enumerate(steps)
    )
)


def rate_at(course, time):
    return [step.rate for step in course if step.at <= time][-1]


@pytest.mark.parametrize(
    ("rate", "step", "most", "top"),
    [(60, 10, 90, 90), (60, 20, 90, 80), (60, 10, 60, 60), (60, 1, 60, 60), (60, 1, 50, 60)],
)
def test_the_highest_rate_is_reached_by_whole_steps(rate, step, most, top):
    assert highest_rate(rate, step, most) == top


@given(COURSES, st.integers(0, 30), st.integers(0, 30))
def test_volume_is_the_rate_of_each_hour_summed(course, start, hours):
    walked = sum(rate_at(course, hour * HOUR) for hour in range(start, start + hours))
    assert volume_run(course, start * HOUR, (start + hours) * HOUR) == walked
    assert volume_run(course, (start + hours) * HOUR, start * HOUR) == 0


@given(COURSES, st.integers(1, 100_000), st.fractions(0, 20, max_denominator=60))
def test_reached_is_the_first_time_at_which_the_volume_has_run(course, amount, hours):
    since = hours * HOUR
    time = time_to_volume(course, amount, since)
    if time is None:
        assert course[-1].rate == 0
        assert volume_run(course, since, since + 1000 * HOUR) < amount
    else:
        assert volume_run(course, since, time) == amount
        assert volume_run(course, since, time - 1) < amount


def test_a_volume_is_reached_at_the_end_of_the_rate_that_brings_it():
    for_an_hour = (RateStep(0, 60 * ML), RateStep(HOUR, 0))
    assert time_to_volume(for_an_hour, 60 * ML) == HOUR
    assert time_to_volume(for_an_hour, 60 * ML + 1) is None
    assert time_to_volume(for_an_hour, 30 * ML, HOUR // 2) == HOUR


def test_nothing_is_reached_at_once():
    assert time_to_volume(constant_rate(0), 0) == 0
    assert time_to_volume((RateStep(0, 0), RateStep(HOUR, 60 * ML)), 0, MINUTE) == MINUTE


@given(COURSES, st.integers(700, 20_000), st.none() | st.integers(HOUR, 9 * HOUR))
def test_bags_follow_one_another_and_none_is_overdrawn(course, size, every):
    used = hang_bags(course, size, every, DAY)
    assert used[0].hung == 0
    assert [bag.number for bag in used] == list(range(1, len(used) + 1))
    for bag, following in pairwise(used):
        assert bag.over == following.hung
    assert used[-1].over is None or used[-1].over > DAY
    for bag in used:
        if bag.over is not None:
            ran = volume_run(course, bag.hung, bag.over)
            assert ran == size if bag.empties else ran < size
            assert every is None or bag.over - bag.hung <= every
        if bag.notice is not None:
            assert volume_run(course, bag.hung, bag.notice) * 5 == size * 4
            assert bag.over is None or bag.notice < bag.over
