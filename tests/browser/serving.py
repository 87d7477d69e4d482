"""The local page in a process of its own, and what a test in the browser waits for and asks."""

from __future__ import annotations

import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import orderlint
from orderlint.page.entries import NAME

CHROMIUM = "/usr/bin/chromium"
EXAMPLES = Path(__file__).parents[2] / "examples"
CLEAN = EXAMPLES / "clean.yaml"
AT = "2026-03-02T15:30:00-06:00"


class Served:
    """The page in a process of its own, so that it can be killed."""

    def __init__(self, *options):
        command = [sys.executable, "-m", "orderlint", "page", "--no-open", "--at", AT, *options]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        self.address = self.process.stdout.readline().strip()

    def end(self):
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()


def settle(page):
    wait_until(lambda: page.inner_text("#verdict") != "Checking")
    assert page.get_attribute("#result", "aria-busy") == "false"


def wait_until(holds):
    """The page's own policy forbids a condition that is evaluated in it."""
    ends = time.monotonic() + 20
    while not holds():
        assert time.monotonic() < ends
        time.sleep(0.05)


def verdict_of(text):
    at = datetime.fromisoformat(AT)
    return orderlint.verify(text, name=NAME, at=at)


def in_a_tab(page, button):
    """The page that a button opens beside the form."""
    with page.expect_popup() as opened:
        page.click(f"text={button}")
    return opened.value


def paste(page, text):
    """Open an order as a text."""
    if not page.is_visible("#file"):
        page.click("summary:has-text('Open an order')")
    page.fill("#file", text)
    with page.expect_navigation():
        page.click("#open")
