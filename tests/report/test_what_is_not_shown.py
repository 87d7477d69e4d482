"""What reports say of their own limits: of the table by ICP, and of free texts."""

from __future__ import annotations

from pathlib import Path

import pytest
from order_sets import some_rules
from running import run

from orderlint.report.words import FREE_TEXT, NOT_IN_TABLE

FOLDER = Path(__file__).parents[2] / "examples"
AT = ("--at", "2026-03-02T14:30:00-06:00")
CLEAN, SEEN = FOLDER / "clean.yaml", FOLDER / "seen-as-ordered.yaml"
SAME = "By either order the controller opens, closes and warns at the same pressures."


def said(*arguments) -> str:
    return " ".join(run(*arguments).text.split())


@pytest.mark.parametrize(
    ("path", "text", "said_of_it"),
    [
        ("irrigation.rate", "180 mL/h", "the pump is set 120 mL/h above the order"),
        ("irrigation.rate", "6 mL/h", "the pump is set 54 mL/h below the order"),
        ("irrigation.bag", "500 mL", "it holds 500 mL less than is ordered"),
        ("irrigation.fluid", "normal saline", "normal saline in place of lactated Ringer's"),
    ],
)
def test_what_is_seen_otherwise_is_said_in_what_it_changes(path, text, said_of_it):
    """A rate three times as high moves no level of pressure, and is no small thing."""
    report = said("readback", *AT, CLEAN, SEEN, "--set", f"{path}={text}")
    assert f": {said_of_it}." in report
    assert "does the same" not in report


def test_a_setting_by_itself_is_compared_alone_and_is_no_double_check():
    ran = run("readback", *AT, CLEAN, "--set", "irrigation.rate=90 mL/h")
    report = " ".join(ran.text.split())
    assert "the pump is set 30 mL/h above the order" in report
    assert "Not looked at, so that this is no double check: irrigation fluid, additive," in report
    assert "nothing is seen there" not in report
    assert len(ran.out.splitlines()) < 45


def test_two_orders_with_one_table_may_differ_in_what_it_does_not_show(tmp_path):
    later = tmp_path / "later.yaml"
    text = CLEAN.read_text(encoding="utf-8")
    later.write_text(text.replace("rate: 60 mL/h", "rate: 90 mL/h"), encoding="utf-8")
    assert f"{SAME} {NOT_IN_TABLE}" in said("compare", *AT, CLEAN, later)


def test_with_no_difference_seen_the_table_is_not_spoken_of():
    report = said("readback", *AT, CLEAN, SEEN)
    assert "No difference was found." in report
    assert NOT_IN_TABLE not in report
    assert SAME not in report


@pytest.mark.parametrize(
    "arguments",
    [
        ("verify", "--detail", *AT, CLEAN),
        ("verify", *AT, "--format", "html", CLEAN),
        ("plan", "--detail", *AT, "--from", "2026-03-02T15:00:00-06:00", CLEAN),
        ("readback", *AT, CLEAN, SEEN),
        ("review", "--detail", *AT, FOLDER / "set-drainage-with-sections.yaml"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_that_no_free_text_is_understood_is_said_once(arguments, monkeypatch):
    few = some_rules(20)  # what is said of texts rests on none
    monkeypatch.setattr("orderlint.api.verbs.rulebook_for", lambda *_: few)
    assert said(*arguments).count(FREE_TEXT) == 1
