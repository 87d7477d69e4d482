"""A nurse at a terminal: a whole read-back on a pseudo-terminal, as it is played at the bedside."""

from __future__ import annotations

import json
import os
import signal
import stat
import sys

import pexpect
import pytest
from running import CLEAN, all_kept, the_kept

RIGHT = {
    "Who keyed the settings in": "bedside nurse",
    "Who checks now": "second nurse",
    "Irrigation fluid": "lactated Ringer's",
    "Additive": "none",
    "Irrigation bag": "1 L",
    "Display unit": "mmHg",
    "Therapy": "irrigation",
    "Lower pause limit": "2 mmHg",
    "Treat-above level": "8 mmHg",
    "Upper pause limit": "22 mmHg",
    "Irrigation rate": "60 mL/h",
    "Alarms": "on",
    "Drain scale unit": "mmHg",
    "Drain height": "5 mmHg",
    "Zero landmark": "tragus",
    "Collection bag": "700 mL",
    "Catheter site": "right ventricle",
}


def _as_in_a_terminal() -> None:
    """What runs in the background may ignore interrupts, and so would all that it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture
def nurse(tmp_path):
    """Starts the read-back of the clean order on a terminal of 80 columns."""
    started = []

    def at_terminal(*options: str) -> pexpect.spawn:
        arguments = ["-P", "-m", "orderlint", "readback", str(CLEAN), *options]
        environment = {**os.environ, "TERM": "dumb", "LC_ALL": "C.UTF-8"}
        size = {"dimensions": (24, 80), "timeout": 30, "encoding": "utf-8"}
        where = {"cwd": tmp_path, "env": environment, "preexec_fn": _as_in_a_terminal}
        terminal = pexpect.spawn(sys.executable, arguments, **where, **size)
        # Each question is waited for, so that nothing is sent before it is asked.
        terminal.delaybeforesend = terminal.delayafterread = None
        terminal.delayafterclose = terminal.delayafterterminate = 0.005
        terminal.ptyproc.delayafterclose = terminal.ptyproc.delayafterterminate = 0.005
        started.append(terminal)
        return terminal

    yield at_terminal
    for terminal in started:
        terminal.close(force=True)


def play(terminal: pexpect.spawn, entries: dict[str, str]) -> None:
    for question, answer in entries.items():
        terminal.expect(f"{question}[^>]*> ")
        terminal.sendline(answer)


def after(question: str) -> dict[str, str]:
    """The entries from a question on."""
    questions = list(RIGHT)
    return {name: RIGHT[name] for name in questions[questions.index(question) :]}


def before(question: str) -> dict[str, str]:
    questions = list(RIGHT)
    return {name: RIGHT[name] for name in questions[: questions.index(question)]}


def ended(terminal: pexpect.spawn) -> int:
    terminal.expect(pexpect.EOF)
    terminal.close()
    return terminal.exitstatus


def test_right_entries(nurse, tmp_path):
    terminal = nurse()
    play(terminal, RIGHT)
    terminal.expect("All is entered, and it is compared with the order now.\r\n\r\n")
    assert "once more" not in terminal.before
    terminal.expect("What is ordered and what was seen")
    terminal.expect("Check sheet, to keep")
    ended(terminal)
    assert [*tmp_path.iterdir(), *all_kept()] == []


def test_a_unit_slip_with_a_second_look(nurse):
    terminal = nurse()
    play(terminal, {**RIGHT, "Upper pause limit": "22 cmH2O"})
    terminal.expect("Look once more, without the order")
    assert "29.9" not in terminal.before
    terminal.expect("Upper pause limit, number and unit:\r\n> ")
    terminal.sendline("22 cmH2O")
    terminal.expect("the same number in another")
    assert ended(terminal) == 1


def test_a_stop_and_a_resume(nurse):
    terminal = nurse()
    play(terminal, {**before("Treat-above level"), "Treat-above level": "stop"})
    terminal.expect("Stopped; nothing was compared")
    assert ended(terminal) == 3
    assert stat.S_IMODE(the_kept().stat().st_mode) == 0o600
    terminal = nurse()
    play(terminal, {"Is it yours": "yes", "Who checks now": RIGHT["Who checks now"]})
    terminal.expect("Entered already, on [-0-9]+: irrigation fluid [0-9]+:[0-9]+, additive ")
    play(terminal, after("Treat-above level"))
    terminal.expect("Verdict: ")
    ended(terminal)
    assert all_kept() == []


@pytest.mark.parametrize("question", ["Who keyed the settings in", "Treat-above level"])
@pytest.mark.parametrize("how", ["Ctrl-C", "Ctrl-D", "Ctrl-D in a line", "hang-up"])
def test_an_interrupt(nurse, question, how):
    terminal = nurse()
    entered = before(question)
    play(terminal, entered)
    terminal.expect(f"{question}[^>]*> ")
    if how == "Ctrl-C":
        terminal.sendintr()
    elif how == "hang-up":
        terminal.close()
    else:
        terminal.send("8 mmHg" if how == "Ctrl-D in a line" else "")
        terminal.sendeof()
        if how == "Ctrl-D in a line":
            terminal.sendeof()
    if how != "hang-up":
        terminal.expect("Stopped; noth")
        assert "Traceback" not in terminal.before
        assert ended(terminal) == (130 if how == "Ctrl-C" else 3)
    assert len(all_kept()) == bool(entered)
    if entered:
        kept = json.loads(the_kept().read_text(encoding="utf-8"))
        assert [answer["entered"] for answer in kept["first"].values()] == [*entered.values()]
