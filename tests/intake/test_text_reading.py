"""Whole texts: what one clause does to another, and that all of it is read or listed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orderlint.intake.text_reading import holds_setting, read_text

PIECES = st.sampled_from(
    ["rate 60 mL/h", "treat above 8 mmHg", "if febrile", "Old orders:", "call me", "EVD at 5 mmHg"]
)
JOINTS = st.sampled_from([", ", "; ", ". ", "\n", "\n\n", " and "])


def values_in(text):
    return {value.path: value.text for value in read_text(text).values}


@given(st.lists(st.tuples(PIECES, JOINTS), max_size=6))
def test_spans_read_and_unread_cover_the_text(pieces):
    text = "".join(piece + joint for piece, joint in pieces)
    found = read_text(text)
    spans = sorted(
        [*(u.clause for u in found.understood), *found.not_understood], key=lambda c: c.start
    )
    rest, end = "", 0
    for clause in spans:
        assert clause.start >= end
        rest, end = rest + text[end : clause.start], clause.end
    assert not (rest + text[end:]).strip(" \n,;.")
    for value in found.values:
        written = text[value.start : value.end]
        assert value.text.startswith(written)


@pytest.mark.parametrize(
    "text",
    [
        "if ICP rises, rate 20 mL/h",
        "rate 20 mL/h, if tolerated",
        "Old settings:\nrate 20 mL/h\nEVD at 5 mmHg",
        "Previous orders\nrate 20 mL/h",
        "rate 20 mL/h; irrigate at 40 mL/h",
        "rate 20 mL/h?",
        '"rate 20 mL/h"',
        "(rate 20 mL/h)",
        "rate 20 mL/h" + " " * 400 + "not",
    ],
)
def test_what_may_be_void_is_not_read(text):
    assert not values_in(text)


def test_what_is_said_twice_alike_is_read_once():
    assert values_in("rate 20 mL/h. Irrigate at 20  mL/h") == {"irrigation.rate": "20 mL/h"}


def test_the_names_of_sections_and_blank_lines_end_what_a_heading_governs():
    assert values_in("Drainage\nEVD at 5 mmHg") == {"drainage.height": "5 mmHg"}
    assert values_in("Old orders\nrate 20 mL/h\n\nrate 40 mL/h") == {"irrigation.rate": "40 mL/h"}


def test_no_additive_and_a_name_of_one_contradict_each_other():
    assert not values_in("additive none; additive name: cefuroxime")


@pytest.mark.parametrize(
    ("clause", "holds"), [("a nice day", False), ("twice ½", True), ("the drain", True)]
)
def test_a_number_or_the_name_of_a_setting_is_noticed(clause, holds):
    assert holds_setting(clause) is holds


@given(st.text(max_size=80))
def test_any_text_is_read_without_an_error(text):
    read_text(text)
