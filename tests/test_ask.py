"""What is asked in one message: the heaviest first, few, and short enough to be read aloud."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from clocks import milliseconds, soon_after_written
from drawing import most
from hypothesis import given
from orders import orders
from read_aloud import LONGEST, spoken

from orderlint.finding import Level
from orderlint.message import (
    MAX_QUESTIONS,
    MAX_WORDS,
    REST_IN_REPORT,
    count_words,
    message_to,
)
from orderlint.order import Order
from orderlint.report import ask as ask_words
from orderlint.rulebook.load import load
from orderlint.verification import Verified, verify, verify_order

FOLDER = Path(__file__).parents[1] / "examples"
ORDERS = sorted(
    path
    for path in FOLDER.iterdir()
    if path.is_file() and re.search(rb'^ *"?document"?: "?order"?,?$', path.read_bytes(), re.M)
)
AT = 1_772_483_400_000  # 2026-03-02T14:30:00-06:00


def example_order(name: str) -> Verified:
    file = FOLDER / name
    return verify(file.read_bytes(), name, milliseconds(soon_after_written(file)))


@pytest.mark.parametrize("path", ORDERS, ids=lambda path: path.name)
def test_the_message_about_an_example_is_short_enough_to_be_read_aloud(path):
    message = message_to("prescriber", example_order(path.name))
    assert not message.points or spoken(message) < LONGEST


def test_points_stand_by_level_and_what_is_not_written_is_one_of_them():
    message = message_to("prescriber", example_order("minimal.yaml"))
    levels = [point.level.weight for point in (*message.points, *message.deferred)]
    assert levels == sorted(levels, reverse=True)
    clarify = message.points[0]
    assert clarify.says.startswith("Not written: patient group, person to call, ")
    assert clarify.says.endswith(" more.")
    assert "missing-transport-drain" in clarify.rules


def test_who_else_is_to_be_asked_is_named():
    verified = example_order("infant.yaml")
    message = message_to("prescriber", verified)
    assert (message.points, message.for_others) == ((), (("pharmacy", 1),))
    other = message_to("pharmacy", verified)
    assert [point.rules for point in other.points] == [("infant-needs-own-policy",)]
    assert (other.for_others, ask_words.background(other)) == ((), "")


def test_what_was_typed_is_asked_of_whoever_typed_it():
    verified = example_order("misspelt-keys.yaml")
    by_whom = {f.rule: f.ask_whom for f in verified.assessment.findings}
    assert by_whom == {"choice-not-known": "prescriber", "key-not-known": "transcriber"}
    message = message_to("transcriber", verified)
    assert [point.rules for point in message.points] == [("key-not-known",)]
    assert message.for_others == (("prescriber", 1),)


def test_an_order_that_runs_is_asked_about_before_all_else():
    message = message_to("prescriber", example_order("active-drain-over-upper-pause.yaml"))
    assert ask_words.request(message)[0] == ask_words.HOLD
    assert "is running" in ask_words.situation(message)


def test_a_question_asked_twice_is_said_once_with_both_numbers():
    message = message_to("prescriber", example_order("irrigation-settings-while-draining.yaml"))
    assert ask_words.request(message) == ["1, 2. Is this patient to be irrigated?"]


@given(orders())
@most(40)
def test_every_finding_is_in_exactly_one_point_of_one_person(leaves):
    order = Order("order.yaml", {k: v for k, v in leaves.items() if k != "checked_at"}, ())
    verified = verify_order(order, 0, load("order"))
    asked = []
    for whom in ("prescriber", "pharmacy", "second nurse", "transcriber", "author"):
        message = message_to(whom, verified)
        assert not message.points or len(ask_words.request(message)) <= MAX_QUESTIONS
        assert not message.points or spoken(message) < LONGEST
        assert bool(message.points) == any(f.ask_whom == whom for f in verified.assessment.findings)
        assert not message.deferred or message.points
        said = [(point.says, point.ask) for point in message.points]
        assert sum(count_words(*texts) for texts in said) <= MAX_WORDS
        asked += [rule for point in (*message.points, *message.deferred) for rule in point.rules]
    assert sorted(asked) == sorted(finding.rule for finding in verified.assessment.findings)


def test_no_number_is_in_a_message_that_is_not_in_a_finding():
    """It proposes nothing: what it adds to the findings has no digit but the points' numbers."""
    own = (ask_words.BACKGROUND, ask_words.CLOSING, ask_words.HOLD, ask_words.AGAIN)
    assert not any(character.isdigit() for text in own for character in text)


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (Level.DO_NOT_START, "must not be started before you answer"),
        (Level.CLARIFY, "needs an answer before it is started"),
        (Level.NOTE, "has a point to look at"),
    ],
)
def test_how_much_it_weighs(level, words):
    message = message_to("prescriber", example_order("pause-limits-reversed.yaml"))
    point = message.points[0]._replace(level=level)
    assert words in ask_words.situation(message._replace(points=(point,)))


def test_a_running_order_has_no_more_questions_than_another():
    """Whether irrigation is to be held is one of them."""
    text = (FOLDER / "clean.yaml").read_text(encoding="utf-8")
    for old, new in (
        ("status: draft", "status: active"),
        ("treat_above: 8 mmHg\n", "treat_above: 8\n"),
        ("rate: 60 mL/h", "rate: 60"),
        ("height: 5 mmHg", "height: 5"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    message = message_to("prescriber", verify(text.encode(), "order.yaml", AT))
    asked = ask_words.request(message)
    assert asked[0] == ask_words.HOLD
    assert len(asked) <= MAX_QUESTIONS


def test_of_what_stands_in_many_places_the_first_are_said_and_that_there_is_more():
    text = (FOLDER / "clean.yaml").read_text(encoding="utf-8")
    message = message_to(
        "prescriber", verify(re.sub(r"(\d) mmHg", r"\1.0 mmHg", text).encode(), "order.yaml", AT)
    )
    (point,) = [p for p in message.points if p.rules == ("trailing-zero",)]
    assert point.says.startswith("In the lower pause limit a number ends in a zero")
    assert point.says.endswith(REST_IN_REPORT)
    assert spoken(message) < LONGEST


def test_a_long_name_is_not_read_aloud():
    data = (FOLDER / "pause-limits-reversed.yaml").read_bytes()
    name = b"id: " + b"one two three four five six " * 9
    changed = b"\n".join(name if line.startswith(b"id:") else line for line in data.split(b"\n"))
    message = message_to("prescriber", verify(changed, "order.yaml", AT))
    assert "an order must not be started" in ask_words.situation(message)
    assert spoken(message) < LONGEST
