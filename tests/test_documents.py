"""The pages cannot lie: every command that they show prints what stands beneath it."""

import re

import pytest
from documents import DRAWN, PAGES, ROOT, WRITTEN, drawn, shown
from documents import run as run_command


@pytest.mark.parametrize(
    "command", shown(), ids=lambda command: f"{command.page}: {command.command}"
)
def test_a_page_shows_what_a_command_prints(command):
    assert run_command(command.command) == command.output


@pytest.mark.parametrize("page", WRITTEN)
def test_a_page_that_the_tool_writes_is_what_it_writes_now(page):
    assert (ROOT / page).read_text(encoding="utf-8") == run_command(WRITTEN[page])


@pytest.mark.parametrize("picture", DRAWN)
def test_a_picture_is_what_the_tool_draws_now(picture):
    assert (ROOT / picture).read_text(encoding="utf-8") == drawn(DRAWN[picture])


def test_every_picture_that_is_kept_is_shown_and_every_one_shown_is_kept():
    pages = "".join((ROOT / page).read_text(encoding="utf-8") for page in PAGES)
    kept = {f"examples/{path.name}" for path in (ROOT / "examples").glob("*.svg")}
    assert kept == set(DRAWN) == set(re.findall(r"!\[[^\]]+\]\((.*?\.svg)\)", pages))
