from __future__ import annotations

import io
import os
import pty
import subprocess
import sys

import pytest
from order_sets import HEAD
from policy_files import RULE, site_policy
from running import AT, CLEAN

from orderlint.cli import progress
from orderlint.cli.progress import watched


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def clock(monkeypatch):
    """A clock that goes on by 0.4 s each time it is looked at, and no TERM."""
    seconds = iter(step * 0.4 for step in range(100))
    monkeypatch.setattr(progress.time, "monotonic", lambda: next(seconds))
    monkeypatch.setenv("TERM", "xterm")


FILES = [f"{number}.yaml" for number in range(6)]


@pytest.mark.usefixtures("clock")
def test_a_bar_comes_after_a_second_and_goes_to_the_end(monkeypatch):
    monkeypatch.setattr(sys, "stderr", Terminal())
    shown = []
    for file in watched(FILES):
        shown.append(bool(sys.stderr.getvalue()))
        assert file == FILES[len(shown) - 1]
    assert shown == [False, False, True, True, True, True]
    assert "100%" in sys.stderr.getvalue()
    assert sys.stderr.getvalue().endswith("\n")


@pytest.mark.usefixtures("clock")
def test_without_a_terminal_there_is_none(monkeypatch):
    for stream in (io.StringIO(), None):
        monkeypatch.setattr(sys, "stderr", stream)
        assert list(watched(FILES)) == FILES
        assert stream is None or stream.getvalue() == ""


@pytest.mark.usefixtures("clock")
def test_a_terminal_that_draws_no_line_anew_has_none(monkeypatch):
    monkeypatch.setattr(sys, "stderr", Terminal())
    monkeypatch.setenv("TERM", "dumb")
    assert list(watched(FILES)) == FILES
    assert sys.stderr.getvalue() == ""


@pytest.mark.usefixtures("clock")
def test_one_file_has_none(monkeypatch):
    monkeypatch.setattr(sys, "stderr", Terminal())
    assert list(watched(FILES[:1])) == FILES[:1]
    assert sys.stderr.getvalue() == ""


@pytest.mark.usefixtures("clock")
def test_a_long_run_of_many_has_a_line_each_where_there_is_no_terminal(monkeypatch):
    stream = io.TextIOWrapper(io.BytesIO(), "utf-8")
    monkeypatch.setattr(sys, "stderr", stream)
    assert list(watched(FILES, lines=True)) == FILES
    stream.flush()
    assert stream.buffer.getvalue().decode().splitlines() == [
        f"{number + 1} of 6 checked: {FILES[number]}" for number in range(2, 6)
    ]


def test_a_quick_run_has_none(monkeypatch):
    monkeypatch.setattr(sys, "stderr", Terminal())
    assert list(watched(FILES)) == FILES
    assert sys.stderr.getvalue() == ""


IMPATIENT = "from orderlint.cli import main, progress; progress.PATIENCE = -1; main()"


ANOTHER = RULE.removeprefix("rules:\n").replace("demo", "another").replace("8 mmHg", "9 mmHg")


def of_orders(_folder):
    return ["verify", *AT, CLEAN, CLEAN], "Verdict: CLEAR"


def of_rules(folder):
    policy = folder / "unit.yaml"
    policy.write_text(site_policy(RULE + ANOTHER), encoding="utf-8")
    return ["rules", "--check", policy], "It can be kept"


def of_sets(folder):
    file = folder / "set.yaml"
    file.write_text(HEAD + "  treat_above: {choose: [8 mmHg, 9 mmHg]}\n", encoding="utf-8")
    return ["review", *AT, file], "Verdict: "


@pytest.mark.slow
@pytest.mark.parametrize(("of", "count"), [(of_orders, 2), (of_rules, 2), (of_sets, 1)])
def test_a_real_terminal_shows_one_and_results_have_none_of_it(of, count, tmp_path):
    arguments, said = of(tmp_path)
    ours, theirs = pty.openpty()
    ran = subprocess.run(
        [sys.executable, "-P", "-c", IMPATIENT, *arguments],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm"},
        check=False,  # that one rule implies the other is a finding
    )
    os.close(theirs)
    shown = b""
    while chunk := _read(ours):
        shown += chunk
    os.close(ours)
    assert b"Checking" in shown
    assert b"100%" in shown
    assert ran.stdout.decode().count(said) == count
    assert b"Checking" not in ran.stdout


def _read(terminal):
    try:
        return os.read(terminal, 4096)
    except OSError:  # its other end is closed
        return b""
