"""Whole texts: what one clause does to another, and that all of it is read or listed."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orderlint.sentences.text_reading import Why, holds_setting, read_text

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
        (each.clause for each in (*found.understood, *found.not_understood)),
        key=lambda c: c.start,
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
        "pause limits 22-2 mmHg",
        "drain height-12 mmHg",
        "pause limits -5--2 mmHg",
        "pause limits 22 mmHg to 2 cmH2O",
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


def test_one_value_in_two_spellings_of_its_unit_is_one():
    assert values_in("rate 20 mL/h. Irrigate at 20 mL/hr.") == {"irrigation.rate": "20 mL/h"}
    for other in ("20 mL/day", "2 mL/h", "20.0 mL/h", "20", "200 mL/h"):
        assert not values_in(f"rate 20 mL/h\nrate {other}"), other


def test_a_long_text_of_numbers_is_read_in_time():
    started = time.process_time()
    read_text("Drain " + "1 " * 9_000)
    read_text("\n".join(["Drain 1 x"] * 2_000))
    assert time.process_time() - started < 3


def test_the_names_of_sections_void_nothing():
    assert values_in("Drainage\nEVD at 5 mmHg") == {"drainage.height": "5 mmHg"}


READ = "rate 40 mL/h\nHOB 30 degrees"
UNREAD = "as the team on call has said"
NUMBER = "that is for at least 24 h from now"


@pytest.mark.parametrize(
    "text",
    [
        f"Old orders\n\n{READ}",
        f"Old orders for the other bed of the two:\n\n{READ}",
        f"{READ}\n\nNot signed",
        f"{READ}\n\nBed 7",
        f"{READ}\n\n{UNREAD}",
        f"{UNREAD}\n{READ}",
        f"- rate 40 mL/h\n- {UNREAD}\n- HOB 30 degrees",
        f"{READ}\n\n{NUMBER}",
        f"rate 40 mL/h\n{NUMBER}\nHOB 30 degrees",
        f"rate 40 mL/h; {NUMBER}; HOB 30 degrees",
        f"{NUMBER}\n- rate 40 mL/h\n- HOB 30 degrees",
    ],
)
def test_words_that_are_not_understood_void_what_they_may_speak_of(text):
    assert not values_in(text)


def test_words_with_a_number_void_what_is_beside_them_and_no_more():
    assert values_in(f"rate 40 mL/h\n{NUMBER}\n\nHOB 30 degrees\nEVD at 5 mmHg") == {
        "position.head_up": "30 degrees",
        "drainage.height": "5 mmHg",
    }
    assert len(values_in(f"- rate 40 mL/h\n- {NUMBER}\n- HOB 30 degrees")) == 2
    assert values_in("- HOB 30 degrees\n- rate 40\n- 80 mL/h from now on overnight") == {
        "position.head_up": "30 degrees"
    }


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("Drain at 5 mmHg below tragus. Treat above 8 mmHg.", {"treat_above": "8 mmHg"}),
        ("Pause limits 22-2 mmHg\nrate 60 mL/h", {"irrigation.rate": "60 mL/h"}),
        ("Upper pause limit 22 mmHg (30 cmH2O); lower limit 2 mmHg", {"pause.lower": "2 mmHg"}),
        ("Bag: 1000 mL\nHOB 30 degrees", {"position.head_up": "30 degrees"}),
        ("Irrigation rate 40-60 mL/h; irrigate at 60 mL/h", {}),
        ("- Rate 40-60 mL/h\n- irrigate at 60 mL/h", {}),
        ("ICP above 25 mmHg; rate 60 mL/h", {}),
        ("Drain 2; rate 60 mL/h", {}),
        ("Drain 5 mmHg?; rate 60 mL/h", {}),
        ("Drain 5 mmHg if awake; rate 60 mL/h", {}),
        ("Drain 5 mmHg at 18:00 h; rate 60 mL/h", {}),
        ("Drain 5 mmHg: rate 60 mL/h; HOB 30 degrees", {}),
        ("Drain 5 mmHg, rate 60 mL/h", {}),
    ],
)
def test_a_clause_of_its_own_setting_voids_what_may_be_of_that_setting_and_no_more(text, read):
    assert values_in(text) == read


def test_why_a_clause_is_not_understood_is_said():
    found = read_text(f"{UNREAD}; rate 40 mL/h\n\n- HOB 30 deg\n- HOB 45 deg\n- {'long ' * 99}1")
    assert [each.why for each in found.not_understood] == [
        Why.NO_PATTERN,
        Why.BESIDE,
        Why.TWO_VALUES,
        Why.TWO_VALUES,
        Why.LONG,
    ]


def test_no_additive_and_a_name_of_one_contradict_each_other():
    assert not values_in("additive none; additive name: cefuroxime")


@pytest.mark.parametrize(
    ("clause", "holds"),
    [
        ("a nice day", False),
        ("Patient stable", False),
        ("the time of the unit", False),
        ("twice ½", True),
        ("the drain", True),
        ("no Treat-above level", True),
        ("landmark as before", True),
    ],
)
def test_a_number_or_the_name_of_a_setting_is_noticed(clause, holds):
    assert holds_setting(clause) is holds


@given(st.text(max_size=80))
def test_any_text_is_read_without_an_error(text):
    read_text(text)
