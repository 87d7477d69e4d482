"""Each part of the benchmarks works, with as few runs as can be. No time is asserted."""

from __future__ import annotations

import sys

import pytest
from benchmarks import cold_start, verdicts
from benchmarks.machine import machine
from benchmarks.made_up_sets import enumerated, made_up
from benchmarks.page import Comparison, Section, figure, page, with_spread
from benchmarks.proofs import Size, comparisons, parts_of
from benchmarks.timing import Series, Taken, calls, in_turn, process
from running import AT, run
from rule_examples import some_rules


def test_a_process_is_measured_and_its_status_looked_at():
    taken = process([sys.executable, "-c", "print(bytes(30 << 20)[-1])"])
    assert taken.peak > 30 << 10
    assert taken.wall > 0
    with pytest.raises(RuntimeError, match="status 7"):
        process([sys.executable, "-S", "-c", "raise SystemExit(7)"])


def test_each_subject_runs_in_turn_and_its_first_run_does_not_count():
    ran = []
    subjects = {
        name: lambda name=name: ran.append(name) or Taken(len(ran), 0) for name in ("ours", "peer")
    }
    series = in_turn(subjects, 2)
    assert ran == ["ours", "peer"] * 3
    assert [run.wall for run in series["peer"].runs] == [4, 6]


def test_a_batch_of_calls_counts_one():
    called = []
    taken = calls(lambda: called.append(1), 1e-4)()
    assert 0 < taken.wall < 1e-3
    assert len(called) > 2


def test_a_series_has_median_quartiles_and_peak():
    series = Series(tuple(Taken(wall, wall / 2, 1024 * wall) for wall in (4, 1, 2, 3, 5)))
    assert (series.wall, series.processor, series.peak) == (3, 1.5, 5)
    assert series.middle_half() == (2, 4)
    assert Series((Taken(2, 1),)).middle_half("processor") == (1, 1)
