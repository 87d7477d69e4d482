"""What a shell offers: verbs, options, choices, rules, and files; from click, without its cost."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from orderlint.cli import program
from orderlint.rulebook.load import load


def offered(line: str, *code: str) -> list[str]:
    """What the bash of click's completion is told for the last word of a line."""
    words = line.split(" ")
    asked = {
        "COMP_WORDS": line,
        "COMP_CWORD": str(len(words) - 1),
        "_ORDERLINT_COMPLETE": "bash_complete",
    }
    call = code or ("-m", "orderlint")
    done = subprocess.run(
        [sys.executable, *call], env={**os.environ, **asked}, capture_output=True, check=True
    )
    assert done.stderr == b""
    return done.stdout.decode().split()


def test_verbs():
    assert offered("orderlint ") == [f"plain,{verb}" for verb in program.list_commands(None)]


@pytest.mark.parametrize(
    "line",
    [
        *(
            f"orderlint {verb} w"
            for verb in ("ask", "compare", "plan", "readback", "review", "verify")
        ),
        "orderlint readback w w",
        "orderlint verify --policy w",
        "orderlint verify --output w",
        "orderlint review --baseline w",
        "orderlint rules --check w",
    ],
)
def test_where_a_file_is_wanted_the_shell_looks_for_one(line):
    assert offered(line) == ["file,w"]


def test_options_and_their_choices():
    assert offered("orderlint verify --fa") == ["plain,--fail-at"]
    assert "plain,do-not-start" in offered("orderlint verify --fail-at ")


def test_rules(tmp_path):
    treat = [f"plain,{name}" for name in load("all").rules if name.startswith("treat-above-over")]
    assert offered("orderlint rules treat-above-over") == treat
    refused = tmp_path / "policy.yaml"
    refused.write_text("rulse: []\n", encoding="utf-8")
    assert offered(f"orderlint rules --policy {refused} treat") == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_has_its_script(shell):
    asked = {"_ORDERLINT_COMPLETE": f"{shell}_source"}
    call = [sys.executable, "-m", "orderlint"]
    done = subprocess.run(call, env={**os.environ, **asked}, capture_output=True, check=True)
    assert b"_ORDERLINT_COMPLETE" in done.stdout
    assert f"{shell}_complete".encode() in done.stdout


def test_nothing_slow_is_imported_for_a_file_or_an_option():
    code = (
        "import sys, orderlint.cli as c\n"
        "try: c.main()\n"
        "finally:\n"
        "    slow = {'jsonschema', 'pint', 'z3', 'yaml', 'json'} & set(sys.modules)\n"
        "    sys.stderr.write(' '.join(sorted(slow)))"
    )
    assert offered("orderlint verify w", "-c", code) == ["file,w"]
