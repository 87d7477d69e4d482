"""Every order in examples/ gives exactly the verdict, findings and status it is meant to."""

from __future__ import annotations

import json
from pathlib import Path

import core_yaml
import pytest
from clocks import milliseconds, soon_after_written
from each_case import of_each
from running import run

from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.verification import verify

FOLDER = Path(__file__).resolve().parents[1] / "examples"
EXPECTED = core_yaml.load_file(FOLDER / "expected.yaml")
UNDER = core_yaml.load_file(FOLDER / "expected-under-policy.yaml")
SETS = core_yaml.load_file(FOLDER / "expected-sets.yaml")
CASES = [(policy, order) for policy, orders in UNDER.items() for order in orders]
COMPARED = core_yaml.load_file(FOLDER / "expected-comparisons.yaml")
SEEN = core_yaml.load_file(FOLDER / "expected-read-back.yaml")
PAGES = {
    *("expected.yaml", "expected-under-policy.yaml", "expected-sets.yaml"),
    *("expected-read-back.yaml", "expected-comparisons.yaml", "rulebook.md"),
    *("past-orders.csv", "past-orders-map.yaml", "note.txt", "fhir-bundle.json"),
}
FAILING = {"do-not-start", "clarify"}


def at(name):
    return soon_after_written(FOLDER / name)


def test_every_example_has_its_expected_findings():
    all_files = (path for path in FOLDER.iterdir() if path.is_file())
    files = (path for path in all_files if path.suffix not in {".svg", ".md"})
    names = {path.name for path in files} - PAGES
    assert names == {*EXPECTED, *UNDER, *SETS, *SEEN}
    assert len(names) >= 10


@pytest.mark.parametrize("name", EXPECTED)
def test_an_example_gives_exactly_what_is_expected(name):
    found = verify((FOLDER / name).read_bytes(), name, milliseconds(at(name)))
    assert found.assessment.verdict.value == EXPECTED[name]["verdict"]
    assert [finding.rule for finding in found.assessment.findings] == EXPECTED[name]["findings"]


@pytest.mark.parametrize("name", EXPECTED)
def test_an_example_gives_the_status_of_its_verdict(name):
    ran = run("verify", "--format", "json", "--at", at(name).isoformat(), FOLDER / name)
    assert ran.status == (EXPECTED[name]["verdict"] in FAILING)
    (document,) = json.loads(ran.out)["documents"]
    assert [finding["rule"] for finding in document["findings"]] == EXPECTED[name]["findings"]


@pytest.mark.parametrize(("policy", "order"), CASES)
def test_an_example_under_a_policy_gives_exactly_what_is_expected(policy, order):
    document = read((FOLDER / policy).read_bytes(), policy, "site-policy")
    instant = milliseconds(at(order))
    found = verify((FOLDER / order).read_bytes(), order, instant, load("order", document))
    expected = UNDER[policy][order]
    assert found.assessment.verdict.value == expected["verdict"]
    assert [finding.rule for finding in found.assessment.findings] == expected["findings"]
    assert [item.finding.rule for item in found.assessment.suppressed] == expected.get(
        "suppressed", []
    )


@pytest.mark.parametrize("name", SEEN)
def test_settings_seen_give_exactly_what_is_expected(name):
    files = (FOLDER / SEEN[name]["order"], FOLDER / name)
    ran = run("readback", "--format", "json", "--at", "2026-03-02T14:30:00-06:00", *files)
    found = json.loads(ran.out)["findings"]
    assert [finding["rule"] for finding in found] == SEEN[name]["findings"]
    assert ran.status == bool(found)


@pytest.mark.parametrize("name", COMPARED)
def test_a_comparison_gives_exactly_what_is_expected(name):
    expected = dict(COMPARED[name])
    files = (FOLDER / expected.pop("before"), FOLDER / name)
    at = ("--at", "2026-03-03T14:30:00-06:00")
    ran = run("compare", "--format", "json", *at, *files)
    (found,) = json.loads(ran.out)["documents"]
    for key in ("findings", "broken"):
        if key in expected:
            assert [item["rule"] for item in found[key]] == expected.pop(key)
    assert {key: found[key] for key in expected} == expected
    assert ran.status == (found["verdict"] in FAILING)


@pytest.mark.usefixtures("contradictions_found_once")
@pytest.mark.parametrize("policy", UNDER)
def test_the_rules_of_an_example_policy_are_sound(policy):
    ran = run("rules", "--check", FOLDER / policy)
    assert (ran.status, ran.err) == (0, "")


@of_each("name", [*EXPECTED, *UNDER, *SETS, *SEEN])
def test_an_example_says_that_it_is_invented(name):
    assert "invented" in (FOLDER / name).read_text(encoding="utf-8")
