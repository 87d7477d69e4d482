"""A change of a share is found where it is, and seldom where there is none."""

from __future__ import annotations

import random

import pytest

from orderlint.audit.shares import _LEAST, change_point


def drawn(shares, of=500, seed=1):
    from scipy.stats import binom  # noqa: PLC0415 - only here, and slow to load

    draw = random.Random(seed)
    return [(int(binom.ppf(draw.random(), of, share)), of) for share in shares]


@pytest.mark.slow
@pytest.mark.parametrize("at", [1, 4, 11])
@pytest.mark.parametrize(("before", "after"), [(0.0, 0.06), (0.01, 0.1), (0.2, 0.05)])
def test_the_month_of_a_change_is_found(at, before, after):
    assert change_point(drawn([before] * at + [after] * (12 - at))) == at


@pytest.mark.slow
def test_chance_alone_is_seldom_taken_for_a_change():
    found = sum(change_point(drawn([0.03] * 12, seed=seed)) is not None for seed in range(100))
    assert found <= 4


def test_a_series_that_can_have_no_change_has_none():
    for months in ([], [(3, 10)], [(0, 0), (0, 0)], [(5, 5), (7, 7)], [(0, 9), (0, 9)]):
        assert change_point(months) is None


@pytest.mark.slow
def test_the_threshold_is_that_of_the_test():
    from scipy.stats import chi2  # noqa: PLC0415 - only here, and slow to load

    assert chi2.ppf(0.999, 1) == pytest.approx(_LEAST)
