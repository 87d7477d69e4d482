"""What a later build goes by fits pyproject.toml, for each Python that is named as tried."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

from each_case import of_each
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
CI = ROOT / ".ci"
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PROJECT = PYPROJECT["project"]
USERS = [
    *PROJECT["dependencies"],
    *(one for extra in ("audit", "serve") for one in PROJECT["optional-dependencies"][extra]),
]
EVERY = [
    *PROJECT["dependencies"],
    *(one for extra in PROJECT["optional-dependencies"].values() for one in extra),
    *PYPROJECT["build-system"]["requires"],
]
DIRECT = sorted({one for one in EVERY if not one.startswith(PROJECT["name"])})
LINES = [
    line
    for line in (CI / "constraints.txt").read_text(encoding="utf-8").splitlines()
    if not line.startswith("#")
]
BILL = json.loads((CI / "bom.json").read_text(encoding="utf-8"))
_PYTHON = "Programming Language :: Python :: 3."
TRIED = [
    name.removeprefix("Programming Language :: Python :: ")
    for name in PROJECT["classifiers"]
    if name.startswith(_PYTHON)
]
REMEDY = "run .ci/constraints, .ci/bom and .ci/matrix"


def pins(name, python):
    """The lines that hold for a package under a Python."""
    under = {
        **default_environment(),
        "python_version": python,
        "python_full_version": f"{python}.0",
    }
    pinned = [Requirement(line) for line in LINES]
    return [
        one
        for one in pinned
        if canonicalize_name(one.name) == canonicalize_name(name)
        and (one.marker is None or one.marker.evaluate(under))
    ]


@of_each("text", DIRECT)
def test_each_dependency_is_held_to_one_release_that_fits(text):
    wanted = Requirement(text)
    for python in TRIED:
        held = pins(wanted.name, python)
        assert len(held) == 1, f"{wanted.name} under {python}: {REMEDY}"
        (release,) = held[0].specifier
        assert release.operator == "=="
        assert wanted.specifier.contains(release.version, prereleases=True), REMEDY


def test_a_line_has_a_release_and_no_address():
    assert LINES
    for line in LINES:
        assert re.fullmatch(r"[a-z0-9-]+==[\w.]+( ; [\w.='<>* ()!]+)?", line), line


def test_the_lowest_python_that_is_allowed_was_tried():
    assert PROJECT["requires-python"] == f">={TRIED[0]}"
    assert len(TRIED) > 1
    assert sorted(TRIED, key=lambda name: int(name.split(".")[1])) == TRIED


def test_the_bill_is_of_the_releases_of_the_constraints():
    (python,) = {
        item["value"].split()[1].rstrip(",")
        for item in BILL["properties"]
        if item["name"] == "environment"
    }
    assert python in TRIED
    parts = {canonicalize_name(part["name"]): part["version"] for part in BILL["components"]}
    assert {canonicalize_name(Requirement(text).name) for text in USERS} <= parts.keys(), REMEDY
    for name, version in parts.items():
        (held,) = pins(name, python)
        assert held.specifier.contains(version, prereleases=True), f"{name}: {REMEDY}"
    assert BILL["metadata"]["component"]["version"] == PROJECT["version"], REMEDY


def test_the_bill_names_no_address_and_every_licence_is_on_the_page():
    assert not re.search(r"https?://(?!cyclonedx\.org)|file:|/home/|/tmp/", json.dumps(BILL))
    page = (CI / "licences.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \| [^|]*\w[^|]* \|$", page, re.MULTILINE)[1:]
    assert {tuple(row) for row in rows} == {
        (part["name"], part["version"]) for part in BILL["components"]
    }
    assert all(part["licenses"] for part in BILL["components"])
