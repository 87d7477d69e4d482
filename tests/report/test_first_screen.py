"""What a nurse sees without scrolling: a terminal has 80 columns and 24 lines."""

from __future__ import annotations

from pathlib import Path

import pytest

import orderlint
from orderlint.finding import Verdict
from orderlint.report.order import words
from orderlint.report.order.blocks import brief_blocks
from orderlint.report.text import render_blocks
from orderlint.report.words import ALREADY_RUNNING, BRIEF_CAUTION, LEVELS

FOLDER = Path(__file__).parents[2] / "examples"
AT = 1_772_486_100_000
LINES, COLUMNS = 24, 80
ORDERS = [
    path
    for path in sorted(FOLDER.glob("*.yaml"))
    if "\ndocument: order\n" in path.read_text(encoding="utf-8")
]


def verified(path):
    return orderlint.verify(path.read_bytes(), name=f"examples/{path.name}").found


def unwrapped(text):
    return " ".join(text.split())


def brief(path):
    return render_blocks(brief_blocks(verified(path), AT), width=COLUMNS)


def test_there_are_orders_of_each_verdict_to_try():
    assert {verified(path).assessment.verdict for path in ORDERS} >= {
        Verdict.CLEAR,
        Verdict.CLARIFY,
        Verdict.DO_NOT_START,
    }


@pytest.mark.parametrize("path", ORDERS, ids=lambda path: path.name)
def test_verdict_reason_and_question_stand_in_the_first_20_lines(path):
    found = verified(path).assessment.findings
    if not found:
        return
    first = next(words.in_order(found))
    top = unwrapped("\n".join(brief(path).splitlines()[:20]))
    assert f"Verdict: {words.verdict_words(verified(path))[0]}" in top
    if first[0].family == words.MISSING_FAMILY:
        assert words.missing_heading(first) in top
        return
    assert f"{LEVELS[first[0].level]}: {first[0].name or 'The order as a whole'}" in top
    assert unwrapped(first[0].says) in top
    assert f"Ask the {first[0].ask_whom}: {unwrapped(first[0].ask)}" in top


def test_a_clear_report_is_one_screen_and_its_limits_four_lines():
    text = brief(FOLDER / "clean.yaml")
    lines = text.splitlines()
    assert len(lines) < LINES  # a line is left for the prompt
    assert max(map(len, lines)) <= COLUMNS
    *_, limits = text.rstrip("\n").split("\n\n")
    assert len(limits.splitlines()) <= 4
    said = unwrapped(limits)
    assert "“built-in policy”, as of 2026-03-02 15:15 (UTC-06:00)" in said
    assert "none left open" in said
    assert "not asked" in said
    assert said.endswith(BRIEF_CAUTION)


def test_what_may_be_running_still_stands_first(tmp_path):
    text = (FOLDER / "drain-above-treat-above.yaml").read_text(encoding="utf-8")
    path = tmp_path / "order.yaml"
    path.write_text(text.replace("status: draft", "status: active"), encoding="utf-8")
    assert unwrapped(brief(path)).startswith(ALREADY_RUNNING)


def test_the_line_of_each_setting_is_said_and_no_rule_or_source():
    text = unwrapped(brief(FOLDER / "drain-above-treat-above.yaml"))
    assert "Written: 12 cmH2O (row 33); treat-above level: 8 mmHg (row 24)" in text
    assert "Rule:" not in text
    assert "Source:" not in text


def test_what_could_not_be_checked_and_what_is_suppressed_is_never_left_out():
    """In full, since nobody may take silence for a pass."""
    left = unwrapped(brief(FOLDER / "minimal.yaml"))
    for rule in verified(FOLDER / "minimal.yaml").assessment.unchecked:
        assert rule.rule in left


def test_a_childs_rate_is_shown_by_weight():
    """20 mL/h at 12.5 kg are 1.6 mL/kg/h."""
    text = (FOLDER / "child.yaml").read_text(encoding="utf-8")
    for written, other in (("rate: 10 mL/h", "rate: 20 mL/h"), ("24 kg", "12.5 kg")):
        assert written in text
        text = text.replace(written, other)
    said = unwrapped(orderlint.verify(text).to_text(detail=True))
    assert "Irrigation rate, 20 mL/h at 12.5 kg: 1.6 mL/kg/h." in said
    assert "mL/kg/h" not in orderlint.verify(FOLDER / "clean.yaml").to_text(detail=True)
