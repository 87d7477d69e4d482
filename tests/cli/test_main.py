from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from running import CLEAN, run, started

import orderlint
from orderlint.cli import verify


@pytest.mark.parametrize("option", ["-h", "--help"])
def test_help_shows_the_verb_and_a_line_to_try(option):
    ran = run(option)
    assert ran.status == 0
    assert "orderlint verify order.yaml" in ran.text
    assert "does not replace the prescriber" in ran.text


def test_help_of_the_verb_shows_a_line_to_try_and_every_exit_status():
    ran = run("verify", "-h")
    assert ran.status == 0
    lines = ran.out.decode().splitlines()
    assert "    orderlint verify order.yaml" in lines
    assert [line.split()[0] for line in lines if line[:4] == "    " and line[4:5].isdigit()] == [
        "0",
        "1",
        "2",
        "70",
    ]
    assert max(map(len, lines)) <= 80


def test_version():
    ran = run("--version")
    assert (ran.status, ran.text) == (0, f"orderlint, version {orderlint.__version__}")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "Usage: orderlint"),
        (("veriy", "x"), "No such command 'veriy'"),
        (("verify",), "Missing argument"),
        (("verify", "--bogus", "x"), "--bogus"),
        (("verify", "--bogus\x1b[31m", "x"), "1b[31m"),
        (("verify", "--output", "no\u202e", "./no\u202e"), "would be lost"),
        (("no\u202e",), "no"),
        (("verify", "--fail-at", "error", "x"), "'do-not-start', 'clarify', 'note'"),
        (("verify", "--format", "xml", "x"), "'text', 'json'"),
        (("verify", "--at", "2026-03-02T14:10:00", "x"), "with its offset"),
        (("verify", "--at", "tomorrow", "x"), "with its offset"),
        (("verify", "--at", "2026-02-30T14:10:00Z", "x"), "with its offset"),
        (("verify", "-", "-"), "only once"),
    ],
)
def test_wrong_usage_is_said_and_is_2(arguments, says):
    ran = run(*arguments)
    assert ran.status == 2
    assert ran.out == b""
    assert says in ran.err
    assert not {"\x1b", "\u202e"} & set(ran.err)


def test_a_fault_outside_any_file_is_70_in_one_line(monkeypatch):
    def fail(*_):
        raise KeyError("planted")

    monkeypatch.setattr(verify, "run_each", fail)
    ran = run("verify", CLEAN)
    assert ran.status == 70
    assert ran.err.startswith("orderlint: the tool itself failed, which is a fault of the tool")
    assert "(KeyError at orderlint/cli/verify.py:" in ran.err
    assert ran.err.count("\n") == 1


def test_an_interrupt_is_no_finding(monkeypatch):
    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(verify, "run_each", interrupt)
    # 128 and the number of SIGINT, as POSIX shells have it.
    assert run("verify", CLEAN).status == 130


def test_help_imports_nothing_slow():
    code = (
        "import sys, orderlint.cli as c\n"
        "try: c.main(['verify', '--help'])\n"
        "except SystemExit: pass\n"
        "slow = {'jsonschema', 'pint', 'z3', 'yaml', 'json'} & set(sys.modules)\n"
        "sys.stderr.write(' '.join(sorted(slow)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert ran.stderr == b""


def test_the_package_runs_as_a_module():
    process = started("--version")
    out, _ = process.communicate()
    assert process.returncode == 0
    assert out.startswith(b"orderlint, version")


@pytest.mark.slow
@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["verify", "-h"]])
def test_help_that_cannot_be_written_is_no_fault_of_the_tool(arguments):
    with Path("/dev/full").open("wb") as full:
        process = started(*arguments, stdout=full)
        _, err = process.communicate()
    assert process.returncode == 2
    assert err.decode() == "The results could not be written: No space left on device.\n"
