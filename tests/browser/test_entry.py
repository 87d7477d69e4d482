"""The local page in headless Chromium: typed, pasted, by keyboard, without script, and ended."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browser.serving import CLEAN, in_a_tab, paste, settle, verdict_of, wait_until

from orderlint.fields import field_table
from orderlint.page.entries import entries_of
from orderlint.reading import read

pytestmark = pytest.mark.browser

MOST_PRESSES = 400
WIDTHS = (360, 390, 1280)


def texts_of_clean():
    return dict(entries_of(read(CLEAN.read_bytes(), "clean.yaml", "order")))


def test_after_each_pause_the_verdict_is_that_of_the_text_that_stands_there(open_page):
    page = open_page()
    # After the page's own listener: what stands there once a key is taken.
    page.evaluate(
        "window.stood = []; addEventListener('input', () => window.stood.push("
        "document.getElementById('result').getAttribute('aria-busy')"
        " + ' ' + document.getElementById('verdict').textContent))"
    )
    page.select_option("[name=therapy]", "irrigation")
    for path, text in (("pause.upper", "22 mmHg"), ("treat_above", "25 mmHg"), ("id", "demo")):
        page.focus(f"[id='{path}']")
        page.keyboard.type(text)
        settle(page)
        found = verdict_of(page.inner_text("#yaml pre") + "\n")
        assert f"{path.rpartition('.')[2]}: " in page.inner_text("#yaml pre")
        shown = " ".join(page.inner_text("#result").split())
        for finding in found.findings:
            assert finding.says in shown or finding.rule.startswith("missing-")
    assert set(page.evaluate("window.stood")) == {"true Checking"}
    page.focus("[id='treat_above']")
    for _ in range(7):
        page.keyboard.press("Backspace")
        page.wait_for_timeout(30)
    page.keyboard.type("8 mmHg")
    settle(page)
    assert "treat_above: 8 mmHg" in page.inner_text("#yaml pre")
    assert all(asked.startswith("http://127.0.0.1:") for asked in page.noise)


def test_killed_while_somebody_types_it_leaves_no_verdict(open_page, served):
    page = open_page()
    page.fill("[id='treat_above']", "8 mmHg")
    settle(page)
    assert "Verdict" in page.inner_text("#result")
    served.end()
    page.keyboard.type("0")
    wait_until(lambda: page.inner_text("#verdict") == "Not checked")
    shown = page.inner_text("#result")
    assert "Not checked" in shown
    assert "Verdict" not in shown
    assert page.inner_text("#yaml pre") == ""
    # Nor is what was entered lost to a page of the browser's own.
    page.click("#save")
    wait_until(lambda: "does not answer" in page.inner_text("#undone"))
    assert page.input_value("[id='treat_above']") == "8 mmHg0"


@pytest.mark.parametrize("width", WIDTHS)
def test_axe_finds_no_violation_and_nothing_is_wider_than_the_screen(width, open_page):
    from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - as above

    page = open_page(width)
    for fill in (None, "25 mmHg"):
        if fill:
            page.select_option("[name=therapy]", "irrigation")
            page.fill("[id='pause.upper']", "22 mmHg")
            page.fill("[id='treat_above']", fill)
            settle(page)
        found = Axe().run(page).response["violations"]
        assert [(item["id"], item["nodes"][0]["html"]) for item in found] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    asked = in_a_tab(page, "Check at the bedside")
    assert "DO NOT START" in asked.inner_text("h1")
    assert Axe().run(asked).response["violations"] == []
    asked.click("text=Check it all the same")
    asked.wait_for_selector("#answer")
    assert Axe().run(asked).response["violations"] == []


def test_enter_checks_in_its_place_and_leaving_asks_until_the_file_is_saved(open_page):
    page = open_page()
    warned = []
    page.on("dialog", lambda dialog: (warned.append(dialog.type), dialog.accept()))
    page.fill("[id='indication']", "bleeding")
    page.evaluate("window.stays = true")
    page.keyboard.press("Enter")
    settle(page)
    assert page.evaluate("window.stays && document.activeElement.id") == "indication"
    with page.expect_download():
        page.click("text=Save the file")
    page.reload()
    assert warned == []
    page.fill("[id='indication']", "bleeding")
    page.reload()
    assert warned == ["beforeunload"]


def test_without_script_the_same_is_done_by_buttons(open_page):
    page = open_page(java_script_enabled=False)
    page.select_option("[name=therapy]", "drainage")
    page.press("[id='indication']", "Enter")
    assert page.url.count("/") == 4
    assert "DO NOT START" in page.inner_text("#result")
    assert page.input_value("[name=therapy]") == "drainage"
    paste(page, CLEAN.read_text("utf-8"))
    assert "CLEAR" in page.inner_text("#verdict")
    with page.expect_download() as saved:
        page.click("text=Save the file")
    text = Path(saved.value.path()).read_text("utf-8")
    assert verdict_of(text).verdict == "clear"


def test_the_whole_clean_order_is_entered_by_keyboard_alone(open_page):
    page = open_page()
    page.evaluate(
        "window.presses = 0; document.addEventListener('keydown', (event) => {"
        " if (!['Shift', 'AltGraph'].includes(event.key)) window.presses += 1; }, true)"
    )
    texts = texts_of_clean()
    done = set()
    page.focus("[id='id']")
    for _ in range(200):
        at = page.evaluate(
            "() => { const e = document.activeElement; if (e.tagName !== 'SUMMARY') return e.name"
            " || e.tagName; return `summary:${e.parentNode.dataset.key}:${e.parentNode.open}` }"
        )
        enter(page, at, texts)
        done.add(at)
        if texts.keys() <= done:
            break
        page.keyboard.press("Tab")
    settle(page)
    presses = page.evaluate("window.presses")
    print(f"{presses} key presses")
    assert (
        dict(entries_of(read((page.inner_text("#yaml pre") + "\n").encode(), "x.yaml", "order")))
        == texts
    )
    assert page.inner_text("#verdict") == "CLEAR"
    assert presses <= MOST_PRESSES


def enter(page, at, texts):
    """What somebody presses at a control, as little as does it."""
    if at.startswith("summary:"):
        _, key, is_open = at.split(":")
        if is_open == "false" and any(path.startswith(f"{key}.") for path in texts):
            page.keyboard.press("Enter")
        return
    path = at.removeprefix("unit:")
    if path not in texts:
        return
    field, text = field_table().fields[path], texts[path]
    if field.kind == "quantity":
        number, unit = text.split(" ", 1)
        if at == path:
            page.keyboard.type(number)
        else:
            choose(page, at, unit)
    elif field.kind == "choice" and field.otherwise is None:
        choose(page, at, text)
    elif field.kind in {"text", "zone", "choice"}:
        offered(page, text)
    else:
        page.keyboard.type(text)


def choose(page, at, text):
    """Type the beginning of a choice until it is the one that is chosen."""
    for character in text:
        page.keyboard.type(character)
        if page.evaluate("document.activeElement.selectedOptions[0].text") == text:
            return
    raise AssertionError((at, text))


def offered(page, text):
    """The list, and down until it is marked; else what it begins with, and the list again."""
    for begun in ("", text.rpartition("/")[2][:4]):
        page.keyboard.type(begun)
        for _ in range(3):
            page.keyboard.press("ArrowDown")
            if marked(page) == text:
                page.keyboard.press("Enter")
                assert page.evaluate("document.activeElement.value") == text
                return
        page.keyboard.press("Escape")
    page.evaluate("document.activeElement.value = ''")
    page.keyboard.type(text)


def marked(page):
    """The phrase that a press of Enter would take; '' where no list is shown."""
    return page.evaluate(
        "(document.getElementById(document.activeElement.getAttribute('aria-activedescendant'))"
        " || {}).textContent || ''"
    )


@pytest.mark.parametrize("path", ["instructions", "irrigation.fluid"])
def test_nothing_is_written_before_a_phrase_is_taken(path, open_page):
    from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - as above

    page = open_page()
    page.select_option("[name=therapy]", "irrigation")
    settle(page)
    for last in ("Escape", "Tab"):
        page.focus(f"[id='{path}']")
        page.keyboard.press("ArrowDown")
        assert marked(page) != ""
        assert page.get_attribute(f"[id='{path}']", "aria-controls") == "phrases"
        assert Axe().run(page).response["violations"] == []
        page.keyboard.press(last)
        assert page.query_selector("#phrases") is None
        assert page.input_value(f"[id='{path}']") == ""
    page.focus(f"[id='{path}']")
    page.keyboard.press("ArrowDown")
    phrase = marked(page)
    page.keyboard.press("Enter")
    assert page.input_value(f"[id='{path}']") == phrase
    settle(page)
    assert phrase in page.inner_text("#yaml pre")


def test_a_read_back_is_played_on_a_screen_of_a_hand_s_width(open_page):
    page = open_page(360)
    paste(page, CLEAN.read_text("utf-8"))
    page = in_a_tab(page, "Check at the bedside")
    texts = texts_of_clean() | {
        "keyed_by": "nurse A",
        "seen_by": "nurse B",
        "irrigation.additive.name": "none",
    }
    asked = asked_paths()
    for _ in range(40):
        if page.query_selector("#answer") is None:
            break
        words = page.inner_text("main")
        assert not re.search(r"\d+ (mmHg|mL)", words)
        # Each button has room for its words.
        heights = [each.bounding_box()["height"] for each in page.query_selector_all("button")]
        assert max(heights) <= 100
        page.fill("#answer", texts[asked[page.inner_text("label[for=answer]")]])
        with page.expect_navigation():
            page.keyboard.press("Enter")
    assert "CLEAR" in page.inner_text("h1") or "Verdict" in page.inner_text("main")
    assert page.url.endswith("/report")
    # Going back asks the browser to send nothing anew, and never shows its own page.
    shown = page.inner_text("h1")
    for _ in range(2):
        page.go_back()
        assert page.inner_text("h1") == shown


def asked_paths():
    from orderlint.readback.dialogue import QUESTIONS, Question  # noqa: PLC0415
    from orderlint.report.readback.prompts import prompt  # noqa: PLC0415

    return {prompt(Question(path, again=False)): path for path in QUESTIONS}
