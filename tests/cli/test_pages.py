"""Pages from the command line: statuses, whole files, and refusals that are shown."""

from __future__ import annotations

import hashlib
import json
import re

import pytest
from order_sets import reading
from report.pages import says_in_order, taken_apart
from running import AT, CLEAN, run

from orderlint.finding import Verdict
from orderlint.report.words import FOR_AUTHOR, LABELS

EXAMPLES = CLEAN.parent
pytestmark = pytest.mark.usefixtures("worked_out_once")
NARROW = EXAMPLES / "drain-above-treat-above.yaml"


def test_a_page_of_several_orders_has_the_digest_of_each(tmp_path):
    output = tmp_path / "page.html"
    ran = run("verify", "--format", "html", *AT, "--output", output, CLEAN, NARROW)
    assert (ran.status, ran.out) == (1, b"")
    page = taken_apart(output.read_text("utf-8"))
    for file in (CLEAN, NARROW):
        assert f"SHA-256 of the file: {hashlib.sha256(file.read_bytes()).hexdigest()}" in page.text
    assert page.text.startswith(f"CLEAR: {CLEAN}; DO NOT START – CALL: {NARROW}")


def test_a_page_from_standard_input_is_utf_8_whatever_the_terminal_has():
    ran = run("verify", "--format", "html", *AT, "-", stdin=CLEAN.read_bytes(), encoding="ascii")
    assert ran.status == 0
    assert "“built-in policy”" in taken_apart(ran.out.decode("utf-8")).text


def test_a_file_that_is_refused_stands_on_the_page_and_on_standard_error():
    data = b'document: order\nformat: 1\nid: "a \\u202e b"\n'
    ran = run("verify", "--format", "html", "-", CLEAN, stdin=data)
    assert ran.status == 2
    reason = "<stdin>:3:5: The text holds U+202E"
    assert ran.err.startswith(reason)
    page = taken_apart(ran.out.decode())
    assert f"NOT CHECKED. {reason}" in page.text
    assert "Verdict: " in page.text


def test_a_policy_that_is_refused_leaves_a_page_that_says_so(tmp_path):
    policy = tmp_path / "policy.yaml"
    policy.write_bytes(b"document: site-policy\nformat: 1\nnonsense: 1\n")
    ran = run("verify", "--format", "html", "--policy", policy, CLEAN)
    assert ran.status == 2
    assert "NOT CHECKED." in taken_apart(ran.out.decode()).text


FROM = ("--from", "2026-03-02T15:00:00-06:00")
CALLS = {
    "verify": ("verify", "--detail", *AT, NARROW),
    "ask": ("ask", *AT, NARROW),
    "ask a running order": ("ask", *AT, EXAMPLES / "active-drain-over-upper-pause.yaml"),
    "ask about nothing": ("ask", *AT, CLEAN),
    "plan": ("plan", "--detail", *FROM, *AT, CLEAN),
    "plan with gaps": ("plan", "--detail", *FROM, *AT, EXAMPLES / "rate-without-unit.yaml"),
    "plan of what is missing": ("plan", "--detail", *FROM, *AT, EXAMPLES / "minimal.yaml"),
    "plan of monitoring": ("plan", "--detail", *FROM, *AT, EXAMPLES / "monitoring-only.yaml"),
    "readback": ("readback", *AT, CLEAN, EXAMPLES / "seen-as-ordered.yaml"),
    "readback in the other unit": (
        *("readback", *AT, CLEAN),
        EXAMPLES / "seen-in-the-other-unit.yaml",
    ),
    "readback as ordered of an order that is unsound": (
        *("readback", *AT, EXAMPLES / "output-limit-under-rate.yaml"),
        EXAMPLES / "seen-as-ordered.yaml",
    ),
    "readback of little": ("readback", *AT, "--set", "pause.upper=22 mmHg", NARROW),
    "compare": ("compare", *AT, CLEAN, EXAMPLES / "next-revision.yaml"),
    "compare orders that cannot be drawn": (
        *("compare", *AT, EXAMPLES / "rate-without-unit.yaml"),
        EXAMPLES / "pressures-in-the-other-unit.yaml",
    ),
    "compare orders of which the second is worse than the change": (
        *("compare", *AT, EXAMPLES / "free-text.yaml"),
        EXAMPLES / "carelessly-watched.yaml",
    ),
    "compare sets": (
        *("compare", *AT, EXAMPLES / "set-irrigation-adult.yaml"),
        EXAMPLES / "set-irrigation-adult-revised.yaml",
    ),
    "compare sets of one's own": (
        *("compare", *AT, EXAMPLES / "set-irrigation-adult.yaml"),
        EXAMPLES / "set-irrigation-corners.yaml",
    ),
    "review": ("review", "--detail", *AT, EXAMPLES / "set-irrigation-adult.yaml"),
    "review of a broken set": ("review", "--detail", *AT, EXAMPLES / "set-irrigation-corners.yaml"),
    "review of blanks": ("review", "--detail", *AT, EXAMPLES / "set-blanks-and-mixed-units.yaml"),
}


LOOKED_AT = {
    "review of blanks": ("drainage.scale", "irrigation.additive.class", "irrigation.rate"),
    "compare sets of one's own": ("pause.upper", "drainage.height"),
}
"""The settings whose rules are asked of what takes long; of all else every rule is."""


@pytest.mark.slow
@pytest.mark.parametrize("call", CALLS)
def test_each_page_says_what_text_and_json_say_and_ends_alike(call, monkeypatch):
    if call in LOOKED_AT:
        book = reading(*LOOKED_AT[call])
        monkeypatch.setattr("orderlint.api.verbs.rulebook_for", lambda *_: book)
    verb, *rest = CALLS[call]
    text, page = run(verb, *rest), run(verb, "--format", "html", *rest)
    assert page.status == text.status
    says_in_order(taken_apart(page.out.decode()), text.out.decode())
    assert page.out == run(verb, "--format", "html", *rest).out
    told = json.loads(run(verb, "--format", "json", *rest).out)
    (document,) = told.get("documents", [told])
    labels = FOR_AUTHOR if document.get("document") == "order-set" else LABELS
    has_the_verdict(page.out.decode(), document["verdict"], text.out.decode(), labels)


NOT_CHECKED = "(?:(?:, as far as read)?; [a-z, ]+ not checked)?"
"""What the line of a verdict says of free texts; tests/test_not_checked.py has more of it."""


def has_the_verdict(page, verdict, text, labels):
    said = labels[Verdict(verdict)]
    assert re.findall(r'<div class="verdict (.*)">', page) == [verdict]
    assert re.findall(rf"<h1>Verdict.*?: (.*?){NOT_CHECKED}</h1>", page) == [said]
    line = rf"^Verdict(?: on what is new)?: (.*?){NOT_CHECKED}$"
    assert re.findall(line, text, re.MULTILINE) == [said]


@pytest.mark.slow
def test_an_order_that_breaks_a_rule_is_drawn_beside_the_presets():
    ran = run("review", "--format", "html", *AT, EXAMPLES / "set-irrigation-corners.yaml")
    page = taken_apart(ran.out.decode())
    assert page.texts.count("The presets") == page.texts.count(
        "The nearest order that breaks the rule"
    )
    assert page.texts.count("The presets") >= 2


def test_two_orders_stand_side_by_side_with_the_digest_of_each():
    after = EXAMPLES / "next-revision.yaml"
    page = taken_apart(run("compare", "--format", "html", *AT, CLEAN, after).out.decode())
    assert page.texts.count("Before") == page.texts.count("Now") == 1
    for file in (CLEAN, after):
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        assert f"{file}: SHA-256 of the file: {digest}" in page.text
    assert "Verified by" in page.text


def test_known_findings_of_a_baseline_are_marked_on_the_page(tmp_path):
    broken = EXAMPLES / "set-irrigation-corners.yaml"
    baseline = tmp_path / "before.json"
    run("review", "--format", "baseline", "--output", baseline, *AT, broken)
    ran = run("review", "--format", "html", "--baseline", baseline, *AT, broken)
    assert ran.status == 0
    assert "Known already." in taken_apart(ran.out.decode()).text
