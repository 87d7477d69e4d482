"""The pages cannot lie: every command that they show prints what stands beneath it."""

import pytest
from documents import run as run_command
from documents import shown


@pytest.mark.parametrize(
    "command", shown(), ids=lambda command: f"{command.page}: {command.command}"
)
def test_a_page_shows_what_a_command_prints(command):
    assert run_command(command.command) == command.output
