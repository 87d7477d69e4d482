"""No small number of two policies side by side can be computed from what is shown."""

from __future__ import annotations

from itertools import product

from orderlint.audit.model import MovedRows
from orderlint.report.audit.small_cells import NOT_SHOWN, shown_moves

MIN = 3
MOST = 7


def possible(text):
    if text == NOT_SHOWN:
        return range(2 * MOST)
    return range(MIN) if text == f"under {MIN}" else (int(text),)


def test_each_small_number_has_another_value_that_fits():
    for both, gone, new in product(range(MOST), repeat=3):
        numbers = (both + gone, both + new, gone, new)
        shown = [s.text for s in shown_moves(both + gone, both + new, MovedRows(gone, new), MIN)]
        fitting = [
            (b, a, g, n)
            for b, a, g, n in product(*map(possible, shown))
            if b - g == a - n and b >= g
        ]
        assert numbers in fitting
        for index, number in enumerate(numbers):
            if 0 < number < MIN:
                assert shown[index] != str(number)
                assert len({found[index] for found in fitting}) > 1, (numbers, shown)
