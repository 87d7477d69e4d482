"""What is not checked of free texts stands under the verdict, whatever the verb and the form."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from order_sets import order_set

import orderlint
from orderlint.finding import NotChecked, Place, Verdict
from orderlint.order_set.free_texts import texts_not_checked
from orderlint.order_set.static_checks import set_faults
from orderlint.proof.certificates import CertificateRefused, certificate, recheck
from orderlint.report.ci.model import of_orders
from orderlint.report.order.words import LONGEST_TEXT, as_far_as_read, not_checked_words
from orderlint.report.review.ci_results import of_set
from orderlint.rulebook.load import load

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
CLEAN = (EXAMPLES / "clean.yaml").read_text(encoding="utf-8")
INSTRUCTIONS = "call before any change of the drain height"
NAMING = "keep the drain open at 5 mmHg, <b>always</b>"
OPEN = CLEAN.replace(INSTRUCTIONS, f"'{NAMING}'")
SEEN = (EXAMPLES / "seen-as-ordered.yaml").read_text(encoding="utf-8")
LINE = "as far as read; instructions not checked"
START = datetime.fromisoformat("2026-03-02T15:00:00-06:00")
VERBS = {
    "verify": orderlint.verify,
    "ask": orderlint.ask,
    "plan": lambda order: orderlint.plan(order, start=START, hours=4),
    "readback": lambda order: orderlint.read_back(order, SEEN),
    "compare": lambda order: orderlint.compare(CLEAN, order),
}


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_says_it_in_every_form(verb):
    result = VERBS[verb](OPEN)
    (item,) = result.not_checked
    assert (item.path, item.text) == ("instructions", NAMING)
    (member,) = result.to_dict()["not_checked"]
    assert member["text"] == NAMING
    assert member["place"]["line"] == item.place.line
    said = " ".join(result.to_text().split())
    assert f"Instructions (row {item.place.line}): “{NAMING}”" in said
    page = result.to_html()
    assert "instructions not checked</h1>" in page
    assert "&lt;b&gt;always&lt;/b&gt;" in page
    assert "<b>always" not in page


@pytest.mark.parametrize("verb", sorted({*VERBS} - {"ask"}))
def test_it_stands_on_the_line_of_the_verdict_and_right_under_it(verb):
    lines = VERBS[verb](OPEN).to_text(width=200).splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith("Verdict: "))
    assert lines[at].endswith("; instructions not checked")
    assert lines[at + 1].startswith(
        "  Written, not checked: Instructions (row 55): “keep the drain"
    )


@pytest.mark.parametrize("verb", VERBS)
def test_an_order_whose_texts_name_nothing_is_as_before(verb):
    result = VERBS[verb](CLEAN)
    assert result.not_checked == ()
    assert result.to_dict()["not_checked"] == []
    assert "not checked" not in result.to_text()


def test_the_forms_for_ci_say_it():
    (checked,) = of_orders([orderlint.verify(OPEN).found], [], load("all").rules, 0).checked
    assert any(f"{LINE}." in text for text in checked.basis)
    assert any(f"Instructions (row 55): “{NAMING}”" in text for text in checked.basis)


def item(path: str, name: str, text: str = "clamp") -> NotChecked:
    return NotChecked(path, name, text, Place("o.yaml", 3, 4))


def test_the_texts_are_named_once_and_do_not_start_is_not_weakened():
    texts = [item("notify.events", "Events to report"), item("instructions", "Instructions")]
    said = "events to report and instructions not checked"
    assert as_far_as_read(Verdict.CLEAR, texts) == f", as far as read; {said}"
    assert as_far_as_read(Verdict.DO_NOT_START, [*texts, *texts[1:]]) == f"; {said}"
    assert as_far_as_read(Verdict.CLEAR, []) == ""


def test_a_text_is_shown_whole_unless_it_is_endless():
    (said,) = not_checked_words([item("instructions", "Instructions", "é" * LONGEST_TEXT)])
    assert said.count("é") == LONGEST_TEXT
    (said,) = not_checked_words([item("instructions", "Instructions", "é" * (LONGEST_TEXT + 1234))])
    assert said.count("é") == LONGEST_TEXT
    assert "” and 1,234 more characters, to be read in the file" in said


def test_each_option_of_a_set_that_is_not_understood_is_listed():
    made = order_set(
        "instructions: {choose: [ask before clamping, keep the drain open, clamp at 5]}"
    )
    assert [item.text for item in texts_not_checked(made)] == ["keep the drain open", "clamp at 5"]


def test_a_number_in_a_set_must_be_each_option_and_one_to_be_filled_in_is_not_compared():
    """An order from the set may have any option, and is asked about where it is another."""
    options = "drainage: {height: {choose: [5 mmHg, 6 mmHg]}}\ninstructions: "
    rule = "text-number-differs"
    assert rule in asked_of_set(f"{options}drain at 6")
    assert rule in asked_of_set(f"{options}drain at 9")
    assert rule not in asked_of_set("drainage: {height: 6 mmHg}\ninstructions: drain at 6")
    blank = "drainage: {height: {blank: required, label: Height}}\ninstructions: drain at 7"
    assert rule not in asked_of_set(blank)
    assert texts_not_checked(order_set(blank))


def test_an_act_in_a_set_is_asked_about_unless_every_option_agrees():
    rule, clamp = "text-asks-for-act", "instructions: clamp for transport"
    assert rule not in asked_of_set(f"transport: {{drain: clamp}}\n{clamp}")
    assert rule in asked_of_set(f"transport: {{drain: {{choose: [clamp, open]}}}}\n{clamp}")


def test_an_act_that_only_an_offered_section_orders_is_asked_about():
    """An order may be signed without the section."""
    rule, act = "text-asks-for-act", "instructions: raise the rate as ordered"
    steps = "step: 10 mL/h, every: 1 h, max: 90 mL/h"
    assert rule not in asked_of_set(f"titration: {{{steps}}}\n{act}")
    assert rule in asked_of_set(f"titration: {{offered: {{preset: in}}, {steps}}}\n{act}")


def asked_of_set(entries: str) -> list[str]:
    return [fault.rule for fault in set_faults(order_set(entries), load("order-set"), 0)]


DIGESTS = {"set": "00", "policy": "11", "rulebook": "22"}


@pytest.fixture(scope="module")
def reviewed():
    text = (EXAMPLES / "set-irrigation-adult.yaml").read_text(encoding="utf-8")
    return orderlint.review(text.replace(INSTRUCTIONS, "keep the drain open"))


@pytest.mark.slow
def test_a_review_says_that_the_texts_of_the_set_are_not_checked(reviewed):
    (member,) = reviewed.to_dict()["not_checked"]
    assert (member["path"], member["text"]) == ("instructions", "keep the drain open")
    assert f"Verdict: SOUND, {LINE}\n  Written, not checked: Ins" in reviewed.to_text()
    assert f"{LINE}</h1>" in reviewed.to_html()
    assert f"Verdict: SOUND, {LINE}." in of_set(reviewed.found, 0).basis


@pytest.mark.slow
def test_a_certificate_names_the_texts_that_no_proof_covers(reviewed):
    found = reviewed.found
    made = certificate(found.order_set, found.rulebook, found.proofs, DIGESTS)
    assert made["not_checked"] == [{"path": "instructions", "text": "keep the drain open"}]
    made["not_checked"] = []
    with pytest.raises(CertificateRefused, match="texts that are not checked"):
        recheck(made, found.order_set, found.rulebook, DIGESTS)
