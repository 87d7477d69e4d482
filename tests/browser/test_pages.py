"""Each page in headless Chromium: quiet, still, inside the screen, accessible, and whole on paper.

Deselected by default; `.ci/browser` brings what they need and runs them.
"""

from __future__ import annotations

import json
import subprocess
from itertools import combinations

import pytest
from reading.hostile import MARKUP, hostile_order
from report.audit.made import as_page, hostile, result
from running import AT, CLEAN, run

pytestmark = pytest.mark.browser

EXAMPLES = CLEAN.parent
CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"),
    *("--disable-component-update", "--no-first-run", "--disable-extensions"),
]
FROM = ("--from", "2026-03-02T15:00:00-06:00")
CALLS = {
    "clean": ("verify", CLEAN),
    "a drain too high": ("verify", EXAMPLES / "drain-above-treat-above.yaml"),
    "running": ("verify", EXAMPLES / "active-drain-over-upper-pause.yaml"),
    "much missing": ("verify", EXAMPLES / "minimal.yaml"),
    "unsafe notation": ("verify", EXAMPLES / "unsafe-notation.yaml"),
    "several": ("verify", CLEAN, EXAMPLES / "monitoring-only.yaml", "no-such-file.yaml"),
    "hostile": ("verify", "-"),
    "ask": ("ask", EXAMPLES / "active-drain-over-upper-pause.yaml"),
    "ask hostile": ("ask", "-"),
    "plan": ("plan", *FROM, CLEAN),
    "a long plan": ("plan", *FROM, "--hours", "168", CLEAN),
    "plan hostile": ("plan", *FROM, "-"),
    "readback": ("readback", CLEAN, EXAMPLES / "seen-in-the-other-unit.yaml"),
    "readback hostile": ("readback", "-", EXAMPLES / "seen-as-ordered.yaml"),
    "compare": ("compare", CLEAN, EXAMPLES / "next-revision.yaml"),
    "compare hostile": ("compare", CLEAN, "-"),
    "compare sets": (
        *("compare", EXAMPLES / "set-irrigation-adult.yaml"),
        EXAMPLES / "set-irrigation-adult-revised.yaml",
    ),
    "review": ("review", EXAMPLES / "set-irrigation-adult.yaml"),
    "review of a broken set": ("review", EXAMPLES / "set-irrigation-corners.yaml"),
}
PAST = (
    *("audit", "--format", "html", "--map", EXAMPLES / "past-orders-map.yaml", "--by", "UNIT"),
    *("--month", "written", "--policy", EXAMPLES / "policy-standing-orders.yaml"),
    *("--sample", "2", "--against", EXAMPLES / "policy-adult-unit.yaml"),
    EXAMPLES / "past-orders.csv",
)
OTHERS = {
    "audit": lambda: str(run(*PAST).out, "utf-8"),
    "audit of much": lambda: as_page(result()),
    "audit hostile": lambda: as_page(hostile(" ".join(MARKUP))),
}
"""Pages that take other options, and of results with parts that no example has."""
PAGES = (*CALLS, *OTHERS)
WIDTHS = (360, 1280)


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where it is there

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Each page in a file of its own, by its name."""
    folder = tmp_path_factory.mktemp("pages")
    made = {}
    for name, (verb, *rest) in CALLS.items():
        ran = run(verb, "--format", "html", *AT, *rest, stdin=hostile_order())
        made[name] = folder / f"{name.replace(' ', '-')}.html"
        made[name].write_bytes(ran.out)
    for name, page in OTHERS.items():
        made[name] = folder / f"{name.replace(' ', '-')}.html"
        made[name].write_text(page(), encoding="utf-8")
    return made


@pytest.fixture
def opened(browser, files):
    """Open a page at a width; what it logs, asks for and shows in a box comes beside it."""
    pages = []

    def open_page(name, width, **options):
        page = browser.new_page(viewport={"width": width, "height": 800}, **options)
        pages.append(page)
        noise = []
        page.on("console", lambda message: noise.append(message.text))
        page.on("pageerror", lambda error: noise.append(str(error)))
        page.on("dialog", lambda dialog: noise.append(dialog.message))
        page.on("request", lambda request: noise.append(request.url))
        page.goto(files[name].as_uri())
        page.wait_for_load_state("networkidle")
        return page, noise

    yield open_page
    for page in pages:
        page.close()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_quiet_and_asks_for_nothing_but_itself(name, width, opened, files):
    _, noise = opened(name, width)
    assert noise == [files[name].as_uri()]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_wider_than_the_screen(name, width, opened):
    page, _ = opened(name, width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    beyond = """() => [...document.querySelectorAll('main *')]
        .filter(e => !e.closest('svg') && e.getBoundingClientRect().right > innerWidth + 0.5)
        .map(e => e.outerHTML.slice(0, 80))"""
    assert page.evaluate(beyond) == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_no_violation(name, width, opened):
    from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - as above

    page, _ = opened(name, width)
    results = Axe().run(page).response
    found = [(item["id"], item["nodes"][0]["html"]) for item in results["violations"]]
    assert found == []


@pytest.mark.parametrize("width", WIDTHS)
def test_what_an_audit_folds_fits_and_has_no_violation_when_opened(width, opened):
    from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - as above

    page, _ = opened("audit of much", width)
    page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert Axe().run(page).response["violations"] == []


def test_what_an_audit_folds_opens_by_the_keyboard(opened):
    page, _ = opened("audit of much", 1280)
    folded = page.evaluate("document.querySelectorAll('details').length")
    for _ in range(folded):
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
    assert page.evaluate("document.querySelectorAll('details[open]').length") == folded


def test_axe_finds_what_is_wrong(opened):
    from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - as above

    page, _ = opened("clean", 1280)
    page.evaluate("document.querySelector('h1').style.color = '#eee'")
    page.evaluate("document.documentElement.removeAttribute('lang')")
    found = {item["id"] for item in Axe().run(page).response["violations"]}
    assert found == {"color-contrast", "html-has-lang"}


BOXES = """() => [...document.querySelectorAll('svg[role=img]')].map(svg => ({
    frame: [svg.viewBox.baseVal.width, svg.viewBox.baseVal.height],
    texts: [...svg.querySelectorAll('text')].map(text => {
        const box = text.getBBox();
        return [box.x, box.y, box.x + box.width, box.y + box.height, text.textContent];
    })}))"""


@pytest.mark.parametrize("name", PAGES)
def test_texts_of_pictures_are_in_their_frames_and_stand_apart(name, opened):
    page, _ = opened(name, 1280)
    pictures = page.evaluate(BOXES)
    assert pictures
    for picture in pictures:
        wide, high = picture["frame"]
        for left, top, right, bottom, text in picture["texts"]:
            assert left >= 0, text
            assert right <= wide, text
            assert top >= 0, text
            assert bottom <= high, text
        for one, other in combinations(picture["texts"], 2):
            beside = one[2] <= other[0] or other[2] <= one[0]
            # Boxes have room above and below the letters.
            assert beside or one[3] <= other[1] + 3 or other[3] <= one[1] + 3, (one, other)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_clean_order_is_on_one_sheet(paper, opened, tmp_path):
    page, _ = opened("clean", 1280)
    sheet = tmp_path / "sheet.pdf"
    page.pdf(path=sheet, format=paper)
    told = subprocess.run(["pdfinfo", sheet], capture_output=True, text=True, check=True).stdout
    assert "Pages:           1\n" in told
    text = subprocess.run(
        ["pdftotext", "-layout", sheet, "-"], capture_output=True, text=True, check=True
    ).stdout
    assert "Verdict: CLEAR" in text
    assert "Date and time" in text


HOSTILE = [name for name in PAGES if name.endswith("hostile")]


@pytest.mark.parametrize("name", HOSTILE)
def test_markup_in_an_order_is_text_in_the_browser(name, opened):
    page, _ = opened(name, 1280, java_script_enabled=True)
    kinds = page.evaluate("[...new Set([...document.querySelectorAll('*')].map(e => e.localName))]")
    assert not {"script", "img", "iframe", "a", "form", "object", "link", "foreignObject"} & {
        *kinds
    }
    assert page.evaluate("document.querySelectorAll('style').length") == 1
    assert json.loads(page.evaluate("JSON.stringify(window.attacked ?? null)")) is None
