"""The browser, and the local page that it opens."""

from __future__ import annotations

import pytest
from browser.serving import CHROMIUM, Served


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where it is there

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture
def served():
    started = Served()
    yield started
    started.end()


@pytest.fixture
def open_page(browser, served):
    pages = []

    def opened(width=1280, **options):
        context = browser.new_context(viewport={"width": width, "height": 800}, **options)
        page = context.new_page()
        page.noise = []
        page.on("console", lambda message: page.noise.append(message.text))
        page.on("pageerror", lambda error: page.noise.append(str(error)))
        page.on("request", lambda asked: page.noise.append(asked.url))
        pages.append(context)
        page.goto(served.address)
        return page

    yield opened
    for context in pages:
        context.close()
