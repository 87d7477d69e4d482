"""Cards on orders, by CDS Hooks 2.0 (Card Attributes), and the codes of reasons by FHIR R4."""

from __future__ import annotations

import html
import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

import orderlint
from orderlint.fields import load_schema
from orderlint.finding import Verdict
from orderlint.report.order import words
from orderlint.report.order.hooks_card import (
    INDICATORS,
    MORE,
    MOST_SAID,
    NOT_CHECKED,
    OVERRIDE_SYSTEM,
    OVERRIDES,
    SHORTER_THAN,
    UNREAD,
    Card,
    card,
    card_of_unread,
)
from orderlint.report.words import LABELS

EXAMPLES = Path(__file__).parents[2] / "examples"
ORDERS = sorted(
    path for path in EXAMPLES.glob("*.yaml") if "document: order\n" in path.read_text("utf-8")
)
AT = datetime(2026, 3, 2, 21, 30, tzinfo=UTC)
ABOUT = Card("b1b3bd4c-5d3c-4a4e-9d35-6a0b36d1b6a9", "https://checks.example/findings/1")


def verified(text):
    return orderlint.verify(text, at=AT).found


def clean(**changes):
    """The text of the clean order with changes of single lines."""
    text = (EXAMPLES / "clean.yaml").read_text("utf-8")
    for name, value in changes.items():
        text, count = re.subn(rf"(?m)^(\s*{name}:).*$", _with(value), text)
        assert count == 1, name
    return text


def _with(value):
    return lambda line: f"{line[1]} {value}"


def rendered(card):
    """The text that a client shows of a card's details, its Markdown made into HTML."""
    page = MarkdownIt("gfm-like", {"linkify": False}).render(card["detail"])
    return html.unescape(re.sub(r"<(?!br)[^>]+>", "", page))


@pytest.mark.parametrize("path", ORDERS, ids=lambda path: path.stem)
def test_a_card_has_the_verdict_what_leads_and_what_to_ask(path):
    found = verified(path.read_text("utf-8"))
    made = card(found, ABOUT)
    assert made["summary"].startswith(LABELS[found.assessment.verdict])
    assert len(made["summary"]) < SHORTER_THAN
    findings = found.assessment.findings
    assert bool(findings) == ("overrideReasons" in made)
    (first,) = next(words.in_order(findings), [None])[:1]
    if first and first.family != words.MISSING_FAMILY:
        assert first.says in rendered(made)
        assert f"Ask the {first.ask_whom}: {first.ask}" in rendered(made)
        summary = made["summary"].partition(": ")[2]
        assert summary == first.name or first.says.startswith(summary)
        more = len(findings) - 1
        assert not more or f"{more} more finding{'s' if more > 1 else ''} on" in made["detail"]


def test_missing_settings_stand_in_one_list():
    made = card(verified("document: order\nformat: 1\n"), ABOUT)
    assert made["summary"] == "DO NOT START – CALL: The order says nothing of the therapy."
    assert "\n- DO NOT START – CALL: Order: therapy, display unit\n- " in made["detail"]
    assert "more finding" not in made["detail"]


def test_a_verdict_that_holds_as_far_as_read_says_so():
    made = card(verified(clean(instructions="run the pump at 60 mL/h overnight if calm")), ABOUT)
    assert made["summary"].startswith("CLEAR, as far as read; instructions not checked: ")
    assert "Written, not checked: Instructions" in made["detail"]


def test_what_is_too_long_gives_way_whole():
    text = "x" * 70
    made = card(verified(clean(therapy=text)), ABOUT)
    assert made["summary"] == "DO NOT START – CALL: Therapy"
    assert text in made["detail"]
    text *= 3
    unread = card_of_unread(f"A {text}.", ABOUT._replace(number=2, of=3))
    assert unread["summary"] == f"Order 2 of 3: {NOT_CHECKED}: {UNREAD}"
    assert len(unread["summary"]) < SHORTER_THAN


def test_of_long_texts_a_card_says_only_that_there_are_some():
    said = "run the pump at 60 mL/h overnight if calm"
    made = card(verified(clean(instructions=f"{said} {'and so on ' * 60}")), ABOUT)
    assert "1 text on the page, not checked." in made["detail"]
    assert "and so on" not in made["detail"]
    made = card(verified(clean(instructions=said)), ABOUT)
    assert said in made["detail"]
    assert "on the page" not in made["detail"]


def test_of_many_sentences_those_that_fit_stand_whole():
    found = verified((EXAMPLES / "pause-limits-reversed.yaml").read_text("utf-8"))
    sentences = [f"The limit is {number} mmHg and no other." for number in range(200)]
    (first,) = found.assessment.findings
    many = first._replace(says=" ".join(sentences), ask=" ".join(sentences))
    held = replace(found, assessment=replace(found.assessment, findings=(many,)))
    made = rendered(card(held, ABOUT))
    head, *rest = made.split(f" {MORE}")
    assert len(rest) == 2
    said = head.partition("that call.\n")[2].strip()
    assert many.says.startswith(f"{said} The limit")
    assert 500 < len(said) <= MOST_SAID + 20
    endless = first._replace(says="x " * 20_000)
    held = replace(found, assessment=replace(found.assessment, findings=(endless,)))
    assert f"**{first.name}. {MORE}**" in card(held, ABOUT)["detail"]


HOSTILE = (
    "<script>alert(1)</script>",
    "[here](https://evil.example) ![](https://evil.example/x.png)",
    "**bold** _under_ ~~struck~~ `code` | a | b |",
    "https://evil.example www.evil.example",
    "&lt;b&gt; \\* # head",
    "1. one",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_what_an_order_says_is_shown_as_it_stands(text):
    quoted = json.dumps(text)
    for made in (
        card(verified(clean(id=quoted)), ABOUT),
        card(verified(clean(therapy=quoted)), ABOUT),
        card_of_unread(f"It holds {text}", ABOUT),
    ):
        assert text in rendered(made)
        page = MarkdownIt("gfm-like").render(made["detail"])
        assert set(re.findall(r"<(\w+)", page)) <= {"p", "strong", "ul", "li"}


def test_no_verdict_but_the_two_light_ones_is_mere_information():
    assert {verdict for verdict, weight in INDICATORS.items() if weight == "info"} == {
        Verdict.NOTE,
        Verdict.CLEAR,
    }
    assert {*INDICATORS} == {*Verdict}
    assert INDICATORS[Verdict.DO_NOT_START] == "critical"
    assert card_of_unread("It cannot be read.", ABOUT)["indicator"] == "warning"


def test_reasons_are_codes_of_the_system_that_is_named():
    # FHIR R4 4.0.1, CodeSystem v3-ActCode: what stands below ActDetectedIssueManagementCode.
    assert OVERRIDE_SYSTEM == "http://terminology.hl7.org/CodeSystem/v3-ActCode"
    in_r4 = {
        "1": "Therapy Appropriate",
        "2": "Assessed Patient",
        "3": "Patient Explanation",
        "4": "Consulted Other Source",
        "5": "Consulted Prescriber",
        "6": "Prescriber Declined Change",
        "7": "Interacting Therapy No Longer Active/Planned",
        "8": "Other Action Taken",
        "9": "Instituted Ongoing Monitoring Program",
    }
    assert dict(OVERRIDES).items() <= in_r4.items()
    assert {code for code, _ in OVERRIDES} == {
        *load_schema("check-record")["properties"]["reason"]["enum"]
    } - {None}
