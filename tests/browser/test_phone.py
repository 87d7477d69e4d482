"""The local page on a phone: what can be read, pressed, seen and heard there. WCAG 2.2 AA."""

from __future__ import annotations

import pytest
from browser.serving import CLEAN, in_a_tab, paste, settle

pytestmark = pytest.mark.browser

WIDTHS = (360, 390)
SMALLEST_TEXT, SMALLEST_FIELD_TEXT, SMALLEST_TARGET = 14, 16, 24
"""Pixels: what is read; what is typed in (a phone zooms into less); what is pressed (2.5.8)."""
HIDDEN = """() => {
  const bar = document.querySelector("nav"), at = document.activeElement;
  if (bar.contains(at) || at === document.body) return null;
  const below = bar.getBoundingClientRect().bottom, box = at.getBoundingClientRect();
  const stuck = bar.getBoundingClientRect().top <= 1;
  return stuck && box.top < below - 1 && box.height < innerHeight - below ? at.outerHTML : null;
}"""
SIZES = """() => [...document.querySelectorAll("body *")].filter((each) =>
  each.checkVisibility() && !each.closest("svg, .unseen, option") && [...each.childNodes].some(
    (inside) => inside.nodeType === 3 && inside.textContent.trim())
).map((each) => [parseFloat(getComputedStyle(each).fontSize), each.outerHTML.slice(0, 80)])"""
TARGETS = """() => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
  .filter((each) => each.checkVisibility() && !each.closest("p:not(.buttons)"))
  .map((each) => [each.closest(".tick") || each, each])
  .map(([box, each]) => [box.getBoundingClientRect().height, parseFloat(
    getComputedStyle(each).fontSize), each.tagName, each.outerHTML.slice(0, 80)])"""


def fit_to_be_read_and_pressed(page, width):
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert [each for each in page.evaluate(SIZES) if each[0] < SMALLEST_TEXT] == []
    targets = page.evaluate(TARGETS)
    assert [each for each in targets if each[0] < SMALLEST_TARGET] == []
    typed = [each for each in targets if each[2] in {"INPUT", "SELECT", "TEXTAREA"}]
    assert [each for each in typed if each[1] < SMALLEST_FIELD_TEXT] == []


@pytest.mark.parametrize("width", WIDTHS)
def test_each_page_can_be_read_and_pressed(width, open_page):
    page = open_page(width)
    fit_to_be_read_and_pressed(page, width)
    page.select_option("[name=therapy]", "irrigation")
    page.fill("[id='treat_above']", "25")
    settle(page)
    fit_to_be_read_and_pressed(page, width)
    asked = in_a_tab(page, "Check at the bedside")
    fit_to_be_read_and_pressed(asked, width)
    asked.click("text=Check it all the same")
    asked.wait_for_selector("#answer")
    fit_to_be_read_and_pressed(asked, width)
    fit_to_be_read_and_pressed(in_a_tab(page, "Sheet to sign"), width)


def test_what_has_the_focus_is_never_behind_the_bar(open_page):
    page = open_page(390)
    paste(page, CLEAN.read_text("utf-8"))
    page.focus("#entries [name=indication]")
    for key, times in (("Tab", 90), ("Shift+Tab", 90)):
        for _ in range(times):
            page.keyboard.press(key)
            assert page.evaluate(HIDDEN) is None


def test_the_verdict_alone_is_said_after_each_pause(open_page):
    page = open_page(390)
    page.fill("[id='indication']", "bleeding")
    settle(page)
    assert page.inner_text("#said") == page.inner_text("#verdict") == "DO NOT START – CALL"
    assert page.get_attribute("#said", "role") == "status"
    assert page.get_attribute("#result", "aria-live") is None


@pytest.mark.parametrize("script", [True, False])
def test_a_finding_leads_to_its_field(script, open_page):
    page = open_page(390, java_script_enabled=script)
    paste(page, CLEAN.read_text("utf-8").replace("treat_above: 8", "treat_above: 25"))
    page.click("#result a:text-is('Treat-above level')")
    assert page.locator("[id='treat_above']").evaluate("e => e === document.activeElement")
    assert page.evaluate(HIDDEN) is None
