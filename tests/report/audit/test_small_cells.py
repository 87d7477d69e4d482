"""No small count can be computed from what is shown: every table that fits it is tried."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from orderlint.report.audit.small_cells import NOT_SHOWN, shown_count, shown_line

MIN = 3
LARGEST = 9
COUNTS = st.lists(st.integers(0, 6), min_size=1, max_size=4)


def texts(counts, min_cell=5, most=None):
    caps = dict(enumerate(most)) if most else None
    return [shown.text for shown in shown_line(dict(enumerate(counts)), min_cell, caps).values()]


def possible(text, most):
    """What a reader knows of a count by what is shown of it."""
    if text == NOT_SHOWN:
        return range(LARGEST + 1)
    return range(min(MIN - 1, most) + 1) if text == f"under {MIN}" else (int(text),)


@given(COUNTS)
@example([0, 1])
@example([2, 2, 5])
@example([2, 4])
def test_what_is_shown_fits_another_value_of_each_small_count(counts):
    total = sum(counts)
    shown = texts(counts, MIN)
    if 0 < total < MIN:  # a total that is small is hidden itself
        return
    fitting = [
        found for found in product(*(possible(t, LARGEST) for t in shown)) if sum(found) == total
    ]
    assert tuple(counts) in fitting
    for index, count in enumerate(counts):
        if 0 < count < MIN:
            assert shown[index] != str(count)
            assert len({found[index] for found in fitting}) > 1, (counts, shown)


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=2, max_size=4))
@example([(1, 0), (0, 5), (0, 0)])
def test_a_zero_that_can_be_nothing_else_covers_nothing(pairs):
    counts = [count for count, _ in pairs]
    most = [count + beyond for count, beyond in pairs]
    total, shown = sum(counts), texts(counts, MIN, most)
    if 0 < total < MIN:
        return
    ranges = [possible(text, known) for text, known in zip(shown, most, strict=True)]
    fitting = [found for found in product(*ranges) if sum(found) == total]
    for index, count in enumerate(counts):
        # One that may be no more than its only possible value is known whatever is hidden.
        if 0 < count < MIN and most[index] > count:
            assert len({found[index] for found in fitting}) > 1, (pairs, shown)


@given(COUNTS)
def test_no_more_is_hidden_than_has_to_be(counts):
    shown = texts(counts, MIN)
    hidden = [text for text in shown if not text.isdecimal()]
    small = [count for count in counts if 0 < count < MIN]
    assert len(hidden) <= len(small) + 1 or NOT_SHOWN not in hidden
    if not small:
        assert not hidden


@pytest.mark.parametrize(
    ("counts", "shown"),
    [
        ([120, 3, 0, 0], ["120", "under 5", "under 5", "0"]),
        ([100, 3], [NOT_SHOWN, "under 5"]),
        ([100, 60, 3], ["100", NOT_SHOWN, "under 5"]),
        ([3, 4, 0, 1200], ["under 5", "under 5", "0", "1,200"]),
        ([4, 4, 100], ["under 5", "under 5", NOT_SHOWN]),
        ([5, 6, 0], ["5", "6", "0"]),
    ],
)
def test_the_least_that_helps_is_hidden_besides(counts, shown):
    assert texts(counts) == shown


def test_with_one_as_the_smallest_cell_nothing_is_hidden():
    assert texts([1, 2, 0], 1) == ["1", "2", "0"]


def test_a_count_alone_is_hidden_by_its_size():
    assert [shown_count(n, 5).text for n in (0, 1, 4, 5, 1234)] == [
        *("0", "under 5", "under 5", "5", "1,234")
    ]
    assert shown_count(4, 5).value is None
