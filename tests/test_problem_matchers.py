"""The problem matchers in examples/ take apart the lines that `verify` and `review` write.

How a matcher is read is from memory of the documentation of each editor and CI.
"""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import pytest
from running import run

from orderlint.rulebook.load import load

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
FOLDER = EXAMPLES / "problem-matchers"
NAMES = {"verify": "one order: 3:4 é.yaml", "review": "a set:7.yaml"}
ORDER = "document: order\nformat: 1\ntherapy: irrigation\n"
# A set that is not understood, so that nothing is proved of it.
SET = """document: order-set
format: 1
order:
  treat_above: {blank: optional, label: Level, shown_when: treat_above > 8}
"""
ERRORFORMAT = {
    "%f": "(?P<file>.+?)",
    "%l": r"(?P<line>\d+)",
    "%c": r"(?P<column>\d+)",
    "%t": "(?P<severity>.)",
    "%*[a-z]": "[a-z]+",
    "%m": "(?P<message>.+)",
    r"\ ": " ",
    ":": ":",
}


@cache
def lines_of(verb, folder):
    """What a verb writes of a file whose name has blanks and colons."""
    file = folder / NAMES[verb]
    file.write_text(ORDER if verb == "verify" else SET, encoding="utf-8")
    return run(verb, file, "--format", "line").out.decode().splitlines()


def taken_apart(pattern, line):
    """The parts of a line by a matcher with numbered groups, None where it does not match."""
    found = re.search(pattern["regexp"], line)
    parts = ("file", "line", "column", "severity", "code", "message")
    return found and {key: found[pattern[key]] for key in parts if key in pattern}


def in_tasks(line):
    (task,) = json.loads((FOLDER / "tasks.json").read_text(encoding="utf-8"))["tasks"]
    return taken_apart(task["problemMatcher"]["pattern"], line)


def in_ci(line):
    """Of a matcher with a severity of its own, that is the severity of each match."""
    made = []
    for each in json.loads((FOLDER / "github-actions.json").read_text("utf-8"))["problemMatcher"]:
        (pattern,) = each["pattern"]
        found = taken_apart(pattern, line)
        if found:
            made.append({"severity": "note" if each.get("severity") == "notice" else "", **found})
    assert len(made) <= 1
    return made[0] if made else None


def in_vim(line):
    text = (FOLDER / "orderlint.vim").read_text(encoding="utf-8")
    (written,) = re.findall(r"^setlocal errorformat=(.*)$", text, re.MULTILINE)
    form, rest = written.split(",")
    assert rest == "%-G%.%#"  # all other lines are left out
    pieces = re.findall("|".join(map(re.escape, ERRORFORMAT)), form)
    assert "".join(pieces) == form
    found = re.fullmatch("".join(ERRORFORMAT[piece] for piece in pieces), line)
    if found is None:
        return None
    rule, message = re.fullmatch("(?:([a-z0-9-]+): )?(.+)", found["message"]).groups()
    severity = {"e": "error", "w": "warning", "n": "note"}[found["severity"]]
    return {**found.groupdict(), "severity": severity, "code": rule, "message": message}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("a folder: 1:2")


@pytest.mark.parametrize("verb", NAMES)
@pytest.mark.parametrize("reader", [in_tasks, in_ci, in_vim])
def test_each_finding_is_taken_apart(reader, verb, folder):
    lines = lines_of(verb, folder)
    found = [line for line in lines if not line.startswith("orderlint: ")]
    seen = set()
    for line in found:
        parts = reader(line)
        assert parts["file"] == str(folder / NAMES[verb])
        assert parts["code"] in load("all").rules
        place = f"{parts['file']}:{parts['line']}:{parts['column']}"
        assert line == f"{place}: {parts['severity']}: {parts['code']}: {parts['message']}"
        seen.add(parts["severity"])
    assert seen == {"error", "warning", "note"}


@pytest.mark.parametrize("verb", NAMES)
@pytest.mark.parametrize("reader", [in_tasks, in_ci, in_vim])
def test_what_is_of_no_place_is_no_problem(reader, verb, folder):
    others = [line for line in lines_of(verb, folder) if line.startswith("orderlint: ")]
    assert others
    assert [line for line in others if reader(line)] == []


@pytest.mark.parametrize("reader", [in_tasks, in_ci, in_vim])
@pytest.mark.parametrize("severity", ["error", "warning", "note"])
def test_a_file_that_is_not_read_is_a_problem_without_a_rule(reader, severity):
    parts = reader(f"a b.yaml:3:4: {severity}: It must be 1.")
    wanted = ("a b.yaml", "3", "4", severity, None, "It must be 1.")
    keys = ("file", "line", "column", "severity", "code", "message")
    assert tuple(parts[key] for key in keys) == wanted


def test_the_page_names_each_file():
    page = (EXAMPLES / "README.md").read_text(encoding="utf-8")
    assert all(f"problem-matchers/{path.name}" in page for path in FOLDER.iterdir())
