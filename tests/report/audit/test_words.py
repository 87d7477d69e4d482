"""Shares never look like none or all, and a rule is said without an order."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.audit.made import RULES

from orderlint.report.audit.words import first_sentence, percent


@given(st.integers(0, 10**9), st.integers(1, 10**9))
def test_a_share_is_rounded_to_a_tenth_and_never_to_none_or_all(count, of):
    count = min(count, of)
    said = percent(count, of)
    if said == "under 0.1 %":
        assert 0 < Fraction(100 * count, of) < Fraction(1, 10)
    elif said == "over 99.9 %":
        assert Fraction(999, 10) < Fraction(100 * count, of) < 100
    else:
        shown = Fraction(said.removesuffix(" %"))
        assert abs(shown - Fraction(100 * count, of)) <= Fraction(1, 20)
        assert (shown == 0) == (count == 0)
        assert (shown == 100) == (count == of)


def test_the_share_of_nothing_is_none():
    assert percent(0, 0) == "0.0 %"


def test_every_rule_is_said_in_one_sentence_without_a_gap():
    for rule in RULES.values():
        said = first_sentence(rule)
        assert said, rule.id
        assert not set("{}…") & set(said), said
        assert not re.search(r"\]\[|\] \[value|(?<!\w)(?:, ,|,\.)", said), said
        assert said[0].isupper(), said
        assert said[-1] in ".?", said


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("missing-irrigation-rate", "The order says nothing of the irrigation rate."),
        (
            "drain-above-treat-above",
            "The drain hangs at [drain height], above the treat-above level.",
        ),
        (
            "bleeding-risk-unknown",
            "The vascular lesion or anticoagulation is written as unknown.",
        ),
        ("trailing-zero", "In a setting a number ends in a zero after its decimal point."),
        (
            "additive-held-in-text",
            "The bag is to hold [additive name], and a setting says: “[value]”.",
        ),
        ("treat-above-over-upper-pause", "Irrigation would never run."),
        ("unit-missing", "A setting is written as [value], without a unit."),
    ],
)
def test_what_an_order_writes_is_named_in_brackets(rule, said):
    assert first_sentence(RULES[rule]) == said


def test_a_rule_that_is_not_known_says_nothing():
    assert first_sentence(None) == ""
