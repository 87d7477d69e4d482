"""What is opened on the local page in headless Chromium: dropped, chosen, picked, confirmed."""

from __future__ import annotations

import json
import re

import pytest
from browser.serving import CLEAN, EXAMPLES, in_a_tab, paste, settle, verdict_of, wait_until
from bundles import bundle

pytestmark = pytest.mark.browser

NOTE = (EXAMPLES / "note.txt").read_text("utf-8")
ROWS = "id\ttherapy\tpause.upper\nfirst\tdrainage\t20 mmHg\nsecond\tdrainage\t2-Feb\n"
PHONES = (360, 390)
DROP = """([text, name]) => {
  const bytes = Uint8Array.from(text, (c) => c.charCodeAt(0));
  const held = new DataTransfer();
  held.items.add(new File([bytes], name));
  for (const kind of ["dragover", "drop"]) {
    const options = { dataTransfer: held, bubbles: true, cancelable: true };
    document.body.dispatchEvent(new DragEvent(kind, options));
  }
}"""


def drop(page, data, name):
    """Drop a file; each byte is a character of the text that goes to the browser."""
    with page.expect_navigation():
        page.evaluate(DROP, [data.decode("latin-1"), name])


def faultless(page, width):
    from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - only where it is there

    found = Axe().run(page).response["violations"]
    assert [(item["id"], item["nodes"][0]["html"]) for item in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_file_is_dropped_as_it_is_and_what_is_none_leaves_what_was_entered(open_page):
    page = open_page()
    page.on("dialog", lambda dialog: dialog.accept())
    page.fill("[id='indication']", "bleeding")
    for data, name, why in (
        ("id,therapy\nh\u00e9,drainage\n".encode("cp1252"), "w.csv", "w.csv:2:2"),
        (b"PK\x03\x04\x00", "b.xlsx", "Save it as CSV"),
        (b"\x00\x01", "c", "U+0000 NULL"),
        (b"\xff\xfei\x00", "d.csv", "not UTF-8"),
        (b"%PDF-1.4\n%\xe2\xe3", "e.pdf", "not UTF-8"),
    ):
        drop(page, data, name)
        assert why in page.inner_text(".message")
        assert page.input_value("[id='indication']") == "bleeding"
    drop(page, CLEAN.read_bytes(), "clean.yaml")
    assert page.inner_text("#verdict") == "CLEAR"
    assert "Opened from clean.yaml" in page.inner_text("form")
    with page.expect_navigation():
        page.click("text=Have it back")
    assert page.input_value("[id='indication']") == "bleeding"
    assert [said for said in page.noise if "rror" in said] == []


@pytest.mark.parametrize("script", [True, False])
def test_what_is_too_large_or_no_order_comes_back_with_all_that_was_entered(script, open_page):
    page = open_page(java_script_enabled=script)
    page.fill("[id='indication']", "bleeding")
    large = {"name": "a.csv", "mimeType": "text/csv", "buffer": b"id,therapy\n" * 40_000}
    page.set_input_files("#upload", large)
    if not script:
        page.click("#open")
    assert "the most that is read here" in page.inner_text("body")
    assert page.inner_text("#verdict") == "Not checked"
    assert "a.csv is not opened" in page.inner_text("#result")
    # The next check is that of the order in the form.
    page.click("button:visible:text-is('Check')")
    wait_until(lambda: page.inner_text("#verdict").startswith("DO NOT START"))
    assert page.input_value("[id='indication']") == "bleeding"


def test_what_is_pasted_takes_the_verdict_away_until_it_is_taken_back(open_page):
    page = open_page()
    paste(page, CLEAN.read_text("utf-8"))
    assert page.inner_text("#verdict") == "CLEAR"
    page.click("summary:has-text('Open an order')")
    page.fill("#file", "rate 20 mL/h")
    assert page.inner_text("#verdict") == "Not checked"
    assert "What is pasted is not opened" in page.inner_text("#result")
    assert page.inner_text("#yaml pre") == ""
    page.click("button:visible:text-is('Check')")
    page.wait_for_timeout(600)
    assert page.inner_text("#verdict") == "Not checked"
    assert "is not opened" in in_a_tab(page, "Sheet to sign").inner_text(".message")
    page.fill("#file", "")
    settle(page)
    assert page.inner_text("#verdict") == "CLEAR"
    page.fill("[id='treat_above']", "25")
    wait_until(lambda: "changed since" in page.inner_text(".opened h2"))


def test_without_script_check_opens_what_is_chosen_and_a_sheet_waits_for_it(open_page):
    page = open_page(java_script_enabled=False)
    paste(page, CLEAN.read_text("utf-8"))
    other = CLEAN.read_bytes().replace(b"treat_above: 8", b"treat_above: 25")
    page.set_input_files("#upload", {"name": "o.yaml", "mimeType": "text/yaml", "buffer": other})
    assert "o.yaml is not opened" in in_a_tab(page, "Sheet to sign").inner_text(".message")
    with page.expect_navigation():
        page.click("button:visible:text-is('Check')")
    assert page.inner_text("#verdict").startswith("DO NOT START")
    assert "Opened from o.yaml" in page.inner_text("form")


def test_a_file_that_is_chosen_is_opened_and_held_until_it_is(open_page, served):
    page = open_page()
    page.on("dialog", lambda dialog: dialog.accept())
    paste(page, CLEAN.read_text("utf-8"))
    other = CLEAN.read_bytes().replace(b"treat_above: 8", b"treat_above: 25")
    chosen = {"name": "other.yaml", "mimeType": "text/yaml", "buffer": other}
    page.click("summary:has-text('Open an order')")
    with page.expect_navigation():
        page.set_input_files("#upload", chosen)
    assert page.inner_text("#verdict").startswith("DO NOT START")
    served.end()
    page.set_input_files("#upload", chosen | {"name": "third.yaml"})
    wait_until(lambda: "does not answer" in page.inner_text("body"))
    assert page.inner_text("#verdict") == "Not checked"


@pytest.mark.parametrize("script", [True, False])
@pytest.mark.parametrize("width", PHONES)
def test_a_row_of_a_table_is_picked(width, script, open_page):
    page = open_page(width, java_script_enabled=script)
    paste(page, ROWS)
    assert "2 orders" in page.inner_text(".message")
    assert page.input_value("#row") == ""
    assert page.locator("#row").evaluate("e => e === document.activeElement")
    page.select_option("#row", "1")
    if script:
        faultless(page, width)
    with page.expect_navigation():
        page.click("text=Open this row")
    assert page.input_value("[id='id']") == "second"
    assert "2-Feb" in page.inner_text("#result")
    assert "DO NOT START" in page.inner_text("#verdict")


@pytest.mark.parametrize("width", PHONES)
def test_a_note_is_confirmed_line_by_line_on_a_phone(width, open_page):
    page = open_page(width)
    paste(page, NOTE)
    assert page.inner_text("#verdict").startswith("INCOMPLETE")
    faultless(page, width)
    boxes = page.query_selector_all("input[type=checkbox]")
    sizes = [
        box.evaluate("e => e.closest('label').getBoundingClientRect().height") for box in boxes
    ]
    assert min(sizes) >= 44
    for box in boxes:
        assert page.inner_text("#yaml pre") == ""
        box.focus()
        page.keyboard.press("Space")
    wait_until(lambda: page.inner_text("#yaml pre") != "")
    settle(page)
    assert "Left out by that person" in page.inner_text("#yaml pre")
    found = verdict_of(page.inner_text("#yaml pre") + "\n")
    assert page.inner_text("#verdict").startswith("DO NOT START")
    assert found.verdict == "do-not-start"
    boxes[0].uncheck()
    settle(page)
    assert page.inner_text("#yaml pre") == ""


def test_a_bundle_that_holds_more_than_an_order_is_never_clear(open_page):
    page = open_page(390)
    whole = bundle()
    paste(page, json.dumps(whole))
    assert page.inner_text("#verdict") == "CLEAR"
    whole["entry"][1]["resource"]["status"] = "stopped"
    paste(page, json.dumps(whole))
    assert page.inner_text("#verdict").startswith("DO NOT START")
    assert "fhir-drug-part-not-in-force" in page.inner_text("#no-file")
    page.fill("[id='indication']", "other")
    settle(page)
    assert page.inner_text("#verdict").startswith("DO NOT START")
    tab = in_a_tab(page, "Check at the bedside")
    assert "No file is made of it" in tab.inner_text("main")


def test_reload_back_and_two_tabs_never_show_the_verdict_of_another_order(open_page, served):
    page = open_page()
    page.on("dialog", lambda dialog: dialog.accept())
    paste(page, CLEAN.read_text("utf-8"))
    other = page.context.new_page()
    other.goto(served.address)
    other.on("dialog", lambda dialog: dialog.accept())
    paste(other, CLEAN.read_text("utf-8").replace("treat_above: 8", "treat_above: 25"))
    for _ in range(2):
        assert page.inner_text("#verdict") == "CLEAR"
        assert other.inner_text("#verdict").startswith("DO NOT START")
        page.reload()
        other.reload()
    other.go_back()
    for shown in (page, other):
        entered = shown.input_value("[id='treat_above']")
        assert shown.inner_text("#verdict") == {"8": "CLEAR", "": "Not checked"}[entered]
    other.go_forward()
    assert other.input_value("[id='treat_above']") == "25"
    assert other.inner_text("#verdict").startswith("DO NOT START")


def arrived(page, held, count):
    """Wait for requests that are held back; only a wait in the browser lets them arrive."""
    for _ in range(100):
        if len(held) == count:
            return
        page.wait_for_timeout(50)
    raise AssertionError(len(held))


def test_an_answer_that_comes_late_is_never_shown_for_what_was_typed_since(open_page):
    page = open_page()
    held = []

    def hold(route):
        held.append(route)

    paste(page, CLEAN.read_text("utf-8"))
    page.route(re.compile("/check$"), hold)
    page.fill("[id='treat_above']", "25")
    arrived(page, held, 1)
    page.fill("[id='treat_above']", "8")
    arrived(page, held, 2)
    assert page.inner_text("#verdict") == "Checking"
    held[1].continue_()
    settle(page)
    assert page.inner_text("#verdict") == "CLEAR"
    held[0].continue_()
    page.wait_for_timeout(300)
    assert page.inner_text("#verdict") == "CLEAR"
    assert "treat_above: 8 mmHg" in page.inner_text("#yaml pre")


def test_an_answer_that_does_not_come_leaves_no_verdict(open_page):
    page = open_page()
    paste(page, CLEAN.read_text("utf-8"))
    page.route(re.compile("/check$"), lambda _: None)
    page.clock.install()
    page.fill("[id='treat_above']", "25")
    page.clock.run_for(9_000)
    assert page.inner_text("#verdict") == "Checking"
    page.clock.run_for(3_000)
    wait_until(lambda: page.inner_text("#verdict") == "Not checked")
    assert page.inner_text("#yaml pre") == ""
