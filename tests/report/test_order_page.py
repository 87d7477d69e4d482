"""The page of a verified order says what the text says, and nothing in an order becomes markup."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from contrast import contrast
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st
from report.hand_made import CROSSED, INACTIVE, MISSING, SETTINGS, SPELLING, UNCHECKED, made
from report.pages import says_in_order, taken_apart
from report.said import FILES, FINDINGS, HIDDEN, NASTY, TEXTS, places

import orderlint.report.html
from orderlint.finding import Inactive, Suppressed, Unchecked, Verdict
from orderlint.order import Leaf, State
from orderlint.report import blocks
from orderlint.report.order.blocks import as_page
from orderlint.report.order.blocks import blocks as order_blocks
from orderlint.report.text import render_blocks
from orderlint.report.unchecked_files import Unread
from orderlint.verification import verify

AT = 1_772_482_200_000
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
ORDERS = [path for path in EXAMPLES if path.read_bytes().find(b"document: order\n") >= 0]
FULL = made((CROSSED, *MISSING, SPELLING), UNCHECKED, INACTIVE)
STYLE = Path(orderlint.report.html.__file__).with_name("pages") / "page.css"


def page_of(*verified, unread=(), at=AT):
    return as_page(verified, unread, {item.file: "0f" * 32 for item in verified}, at)


@pytest.mark.parametrize("path", ORDERS, ids=lambda path: path.name)
def test_a_page_says_all_that_the_text_says_in_its_order(path):
    verified = verify(path.read_bytes(), f"examples/{path.name}", AT)
    report = render_blocks(order_blocks(verified, AT), width=10_000)
    says_in_order(taken_apart(page_of(verified)), report)


def test_there_are_orders_to_try():
    assert len(ORDERS) >= 12


def test_the_verdict_stands_first_then_what_matters_most_then_the_picture():
    text = page_of(FULL)
    parts = (
        "<h1>Verdict: DO NOT START – CALL</h1>",
        "(drainage.height)</h2>",
        "And 5 more below",
        "<svg",
        "<table",
    )
    at = [text.index(part) for part in parts]
    assert at == sorted(at)


def test_what_only_paper_needs_stands_at_the_end():
    page = taken_apart(page_of(FULL)).text
    assert f"SHA-256 of the file: {'0f' * 32}" in page
    assert page.index("Caution:") < page.index("Verified by") < page.index("Checked again by")
    assert "Sources" in page
    assert page.count("follows from the order itself") == 2  # with its finding, and as a source


def test_an_order_without_levels_has_no_picture_and_says_why():
    verified = made((), settings="document: order\nformat: 1\nid: demo-9\n")
    text = page_of(verified)
    assert "<svg" not in text
    assert "This cannot be said, for lack of" in taken_apart(text).text


def test_two_orders_on_one_page_keep_their_pictures_apart():
    other = made(settings=SETTINGS.replace("treat_above: 8", "treat_above: 9"), file="other.yaml")
    page = taken_apart(page_of(FULL, other))
    assert [tag for tag, _ in page.tags].count("article") == 2
    named = [a["aria-labelledby"] for tag, a in page.tags if a.get("role") == "img"]
    assert named == ["order1-title order1-words", "order2-title order2-words"]


def test_a_number_stands_on_one_line_with_its_unit_and_can_be_copied():
    text = page_of(FULL)
    assert '<span class="kept">22 mmHg</span>' in text
    assert "\u00a0" not in text
    assert ".kept { white-space: nowrap; }" in text


def test_each_kind_of_block_has_a_macro_and_no_macro_is_without_a_kind():
    macros = re.findall(
        r"macro (\w+)\(", STYLE.with_name("blocks.html").read_text(encoding="utf-8")
    )
    kinds = set(re.findall(r"\w+", f"{blocks.Texts} {blocks.Block}")) - {"Texts"}
    assert sorted(macros) == sorted(kinds)
    assert all(issubclass(getattr(blocks, name), tuple) for name in kinds)


def test_a_title_is_text_alone():
    text = orderlint.report.html.page("bag of 700 mL <b>", [])
    assert "<title>bag of 700 mL &lt;b&gt;</title>" in text


def test_a_file_that_was_not_checked_stands_on_the_page():
    page = taken_apart(page_of(unread=[Unread("a<b>.yaml", "There is no such file.")]))
    assert "NOT CHECKED. a<b>.yaml: There is no such file." in page.text
    assert "<title>Nothing was checked</title>" in page_of(unread=[Unread("a", "Gone.")])


def test_each_segment_of_the_table_has_the_look_that_it_has_in_the_picture():
    page = taken_apart(page_of(FULL))
    fills = [a["fill"] for tag, a in page.tags if tag == "rect" and a["fill"].startswith("url(")]
    drawn, listed = fills[: len(fills) // 2], fills[len(fills) // 2 :]
    assert drawn == listed
    assert len(drawn) == len(FULL.behaviour.segments)


def test_a_report_is_the_same_each_time():
    assert page_of(FULL) == page_of(FULL)


@st.composite
def _hostile(draw):
    """A verified order with anything in every text, and in every leaf whose text is shown."""
    finding = draw(FINDINGS)
    settings = SETTINGS if draw(st.booleans()) else SETTINGS.replace("upper: 22", "upper: ")
    verified = made(
        (finding, finding._replace(family="complete")),
        (Unchecked(draw(TEXTS), finding.level, ("id",)),),
        (Inactive(draw(TEXTS), draw(TEXTS)),),
        settings=settings,
    )
    leaf = Leaf("id", State.KNOWN, "x", text=draw(TEXTS))
    order = replace(verified.order, leaves={**verified.order.leaves, "id": leaf})
    told = Suppressed(finding, draw(TEXTS), draw(TEXTS), draw(TEXTS), draw(places()))
    return replace(
        verified,
        file=draw(FILES),
        order=order,
        policy=draw(TEXTS),
        assessment=replace(verified.assessment, suppressed=(told,)),
        weaker=(draw(TEXTS),),
    )


@given(_hostile(), TEXTS)
def test_nothing_in_an_order_becomes_markup_or_hides(verified, reason):
    text = page_of(verified, unread=[Unread("a", reason)])
    assert not HIDDEN.search(text)
    taken_apart(text)


@of_each("nasty", [text for text in NASTY if text.isprintable()])
def test_a_printable_text_is_shown_as_it_is(nasty):
    page = taken_apart(page_of(made((CROSSED._replace(says=f"a {nasty} z"),))))
    assert " ".join(f"a {nasty} z".split()) in page.text


def test_the_style_sheet_has_the_contrast_that_text_needs():
    # WCAG 2.2 AA, 1.4.3: 4.5:1 for text; all of it stands on white.
    style = STYLE.read_text(encoding="utf-8")
    assert "--paper: #ffffff" in style
    colors = set(re.findall(r"#[0-9a-f]{6}\b", style)) - {"#ffffff"}
    lines = set(re.findall(r"--rule: (#[0-9a-f]{6})", style))
    assert len(colors - lines) >= 5
    assert all(contrast(color, "#ffffff") >= 4.5 for color in colors - lines)


def test_every_verdict_and_level_has_its_place_in_the_style_sheet():
    style = STYLE.read_text(encoding="utf-8")
    assert all(f".verdict.{verdict.value}" in style for verdict in Verdict)
