"""What is planted in a table of clean orders is counted exactly: by rule, and by unit."""

from __future__ import annotations

import random
from collections import Counter

import pytest
from audit.answers import audit, counts_of, differences
from audit.bases import CHECKED, clean, laid_over, of_rules
from audit.counts import weighed
from audit.files import written
from audit.tables import AT_HAND, whole_row
from audit.truth import BROKEN, judged

WARDS = ("East", "West", "North")


def planted(every: int):
    """Orders that are clean but for a rule's own example, and how often each stands in the table.

    Of the examples every so many is taken.
    """
    broken = [each for each in of_rules() if each.outcome == "breaks"][::every]
    for number, (rule, _, cells) in enumerate(broken):
        row = whole_row({CHECKED: AT_HAND, **laid_over(clean(), cells)}, number, WARDS[number % 3])
        if judged(row, CHECKED).outcomes[rule] == BROKEN:  # unless the clean order has what lacks
            yield rule, row, number % 7 + 1


def as_table(found):
    """The planted rows, each so many times, and clean ones of each ward."""
    rows = [row for _, row, times in found for _ in range(times)]
    rows += [row for row, times in sound() for _ in range(times)]
    random.Random(4).shuffle(rows)
    return rows


def sound():
    """A clean order of each ward, and how often it stands in the table."""
    return [(whole_row({CHECKED: AT_HAND, **clean()}, -1, ward), 50) for ward in WARDS]


def least(found):
    """How often each rule is broken at least, by ward: as often as it was planted there."""
    total = Counter()
    for rule, row, times in found:
        total[row["unit"], rule] += times
    return total


@pytest.mark.slow
@pytest.mark.parametrize("every", [29, pytest.param(1, marks=pytest.mark.deep)])
def test_planted_faults_are_counted_exactly(every, tmp_path):
    found = [*planted(every)]
    rows = as_table(found)
    said = audit(*written(rows, tmp_path, "parquet"), "--as-of", f"column:{CHECKED}")
    ours = counts_of(said)
    for (ward, rule), times in least(found).items():
        assert ours["group", ward, "rule", rule, "broken"] >= times
    truth = weighed([*((row, times) for _, row, times in found), *sound()], CHECKED)
    assert differences(said, truth) == {}
