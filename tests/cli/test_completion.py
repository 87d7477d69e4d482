"""What a shell offers: verbs, options, choices, rules, and files; from click, without its cost."""

from __future__ import annotations

import os
import subprocess
import sys
from unittest import mock

import pytest
from running import run

from orderlint.cli import program
from orderlint.rulebook.load import load


def asked(line: str) -> dict[str, str]:
    """What the bash of click's completion sets for the last word of a line."""
    return {
        "COMP_WORDS": line,
        "COMP_CWORD": str(len(line.split(" ")) - 1),
        "_ORDERLINT_COMPLETE": "bash_complete",
    }


def offered(line: str) -> list[str]:
    """What it is told, in this process."""
    with mock.patch.dict(os.environ, asked(line)):
        ran = run()
    assert (ran.status, ran.err) == (0, "")
    return ran.out.decode().split()


def offered_by(*call: str, line: str) -> list[str]:
    """What it is told by a process of its own."""
    done = subprocess.run(
        [sys.executable, *call], env={**os.environ, **asked(line)}, capture_output=True, check=True
    )
    assert done.stderr == b""
    return done.stdout.decode().split()


def test_verbs():
    verbs = [f"plain,{verb}" for verb in program.list_commands(None)]
    assert offered("orderlint ") == verbs
    assert offered_by("-m", "orderlint", line="orderlint ") == verbs


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
    with mock.patch.dict(os.environ, {"_ORDERLINT_COMPLETE": f"{shell}_source"}):
        ran = run()
    assert "_ORDERLINT_COMPLETE" in ran.text
    assert f"{shell}_complete" in ran.text


def test_nothing_slow_is_imported_for_a_file_or_an_option():
    code = (
        "import sys, orderlint.cli as c\n"
        "try: c.main()\n"
        "finally:\n"
        "    slow = {'jsonschema', 'pint', 'z3', 'yaml', 'json'} & set(sys.modules)\n"
        "    sys.stderr.write(' '.join(sorted(slow)))"
    )
    assert offered_by("-c", code, line="orderlint verify w") == ["file,w"]
