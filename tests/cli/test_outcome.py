from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.hand_made import CROSSED, SPELLING, UNCHECKED, made, missing

from orderlint.cli.exit_status import fault_words, heaviest, status_of
from orderlint.finding import Level

LEVELS = tuple(Level)
ASK = missing("prescriber", "Prescriber", Level.CLARIFY)


@pytest.mark.parametrize(
    ("findings", "unchecked", "statuses"),
    [
        # Exit status at --fail-at do-not-start, clarify, note.
        ((), (), (0, 0, 0)),
        ((SPELLING,), (), (0, 0, 1)),
        ((ASK, SPELLING), (), (0, 1, 1)),
        ((CROSSED, ASK), (), (1, 1, 1)),
        ((), UNCHECKED[2:], (0, 0, 1)),
        ((SPELLING,), UNCHECKED[:1], (0, 1, 1)),
        ((), UNCHECKED, (1, 1, 1)),
    ],
)
def test_an_unchecked_rule_counts_at_its_own_level(findings, unchecked, statuses):
    verified = made(findings, unchecked)
    assert tuple(status_of(verified.assessment, level) for level in LEVELS) == statuses


@given(st.lists(st.sampled_from([0, 1, 2, 70])))
def test_of_several_files_the_heaviest_counts(statuses):
    order = [70, 2, 1, 0]
    assert heaviest(statuses) == next((s for s in order if s in statuses), 0)


def test_a_fault_names_our_line_and_quotes_nothing():
    try:
        made(settings="document: order\nformat: 1\nid: [")
    except Exception as error:
        words = fault_words(error, "a.yaml")
    assert words.startswith("orderlint: a.yaml was not checked: the tool itself failed")
    assert " at orderlint/reading/" in words
    assert "not a finding about the order" in words


def test_a_fault_from_elsewhere_still_has_words():
    assert "(ValueError at an unknown line)" in fault_words(ValueError("1"))
