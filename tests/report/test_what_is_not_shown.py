"""What reports say of their own limits: of the table by ICP, and of free texts."""

from __future__ import annotations

from pathlib import Path

import pytest
from running import run

from orderlint.report.words import FREE_TEXT, NOT_IN_TABLE

FOLDER = Path(__file__).parents[2] / "examples"
AT = ("--at", "2026-03-02T14:30:00-06:00")
CLEAN, SEEN = FOLDER / "clean.yaml", FOLDER / "seen-as-ordered.yaml"
SAME = "the controller does the same at each pressure"


def said(*arguments) -> str:
    return " ".join(run(*arguments).text.split())


@pytest.mark.parametrize(
    ("path", "text"), [("irrigation.rate", "180 mL/h"), ("irrigation.bag", "500 mL")]
)
def test_what_is_seen_otherwise_is_never_said_to_be_the_same_but_in_the_table(path, text):
    """A rate three times as high moves no level of pressure."""
    report = said("readback", *AT, CLEAN, SEEN, "--set", f"{path}={text}")
    assert f"{SAME}, all else being as ordered. {NOT_IN_TABLE}" in report
    assert "as ordered at every ICP" not in report


def test_two_orders_with_one_table_may_differ_in_what_it_does_not_show(tmp_path):
    later = tmp_path / "later.yaml"
    text = CLEAN.read_text(encoding="utf-8")
    later.write_text(text.replace("rate: 60 mL/h", "rate: 90 mL/h"), encoding="utf-8")
    assert f"By either order {SAME}. {NOT_IN_TABLE}" in said("compare", *AT, CLEAN, later)


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
        ("plan", *AT, "--from", "2026-03-02T15:00:00-06:00", CLEAN),
        ("readback", *AT, CLEAN, SEEN),
        ("review", *AT, FOLDER / "set-drainage-with-sections.yaml"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_that_no_free_text_is_understood_is_said_once(arguments):
    assert said(*arguments).count(FREE_TEXT) == 1
