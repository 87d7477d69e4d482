"""The pages cannot lie: every command that they show prints what stands beneath it."""

import pytest
from documents import ROOT, WRITTEN, shown
from documents import run as run_command


@pytest.mark.parametrize(
    "command", shown(), ids=lambda command: f"{command.page}: {command.command}"
)
def test_a_page_shows_what_a_command_prints(command):
    assert run_command(command.command) == command.output


@pytest.mark.parametrize("page", WRITTEN)
def test_a_page_that_the_tool_writes_is_what_it_writes_now(page):
    assert (ROOT / page).read_text(encoding="utf-8") == run_command(WRITTEN[page])
