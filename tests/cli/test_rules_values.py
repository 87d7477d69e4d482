"""`rules --values` and `rules --facts`: what an author may set and say."""

from __future__ import annotations

import json
import re

import pytest
from order_sets import order_set
from policy_files import site_policy
from running import run

from orderlint.report.rules.policy import GATE_FORMS
from orderlint.rulebook.load import load
from orderlint.rulebook.source_documents import shipped_files

VALUES = load("all").values


def test_every_value_has_its_text_direction_source_and_readers():
    text = run("rules", "--values").text
    for value in VALUES.values():
        assert f"{value.name} {value.called}" in text
    assert (
        "window_min narrowest treating window 5 mmHg More orders pass with a lower value. "
        "Source: local policy Asked by: treating-window-narrow" in text
    )


def test_under_a_policy_the_built_in_value_stands_beside_its_own(tmp_path):
    file = tmp_path / "unit.yaml"
    own = "values:\n  window_min: {value: 8 mmHg, source: {kind: local-policy, note: paper}}\n"
    file.write_text(site_policy(own), encoding="utf-8")
    text = run("rules", "--values", "window_min", "--policy", file).text
    assert "8 mmHg Built in: 5 mmHg" in text
    assert "local policy (paper)" in text
    ran = run("rules", "--values", "--policy", file, "--format", "json")
    (found,) = [v for v in json.loads(ran.out)["values"] if v["value"] != v["built_in"]]
    assert (found["name"], found["value"], found["built_in"]) == (
        "window_min",
        {"": "8 mmHg"},
        {"": "5 mmHg"},
    )


def test_json_names_every_value_with_its_unit():
    told = json.loads(run("rules", "--values", "--format", "json").out)["values"]
    assert [value["name"] for value in told] == [*VALUES]
    threshold = next(value for value in told if value["name"] == "icp_threshold")
    assert (threshold["by"], threshold["weaker"]) == ("patient.group", "higher")
    assert threshold["value"]["child"] == "20 mmHg"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--values", "windowmin"), "did you mean window_min?"),
        (("--values", "--format", "markdown"), "text or json"),
        (("--facts", "treat-above-high"), "with no ID"),
        (("--facts", "--values"), "without --values"),
        (("--facts", "--format", "json"), "as text"),
        (("--check", "p.yaml", "--values"), "nothing else"),
    ],
)
def test_what_does_not_go_together_is_said(arguments, message):
    ran = run("rules", *arguments)
    assert (ran.status, ran.out) == (2, b"")
    assert message in ran.err


def test_every_fact_is_told():
    text = run("rules", "--facts").text
    derived = shipped_files().derived.root.get("derived")
    assert derived.entries
    for entry in derived.entries:
        assert f"{entry.key.text}: {entry.value.text}" in text


@pytest.mark.parametrize("condition", GATE_FORMS)
def test_a_condition_that_is_told_is_one_that_a_set_may_have(condition):
    limits = re.search(r"limits: \{.*\}", GATE_FORMS[condition])
    beside = f"\n  {limits[0]}" if limits else ""
    made = order_set(f'instructions:\n  fixed: x\n  shown_when: "{condition}"{beside}')
    assert (made.faults, [gate.path for gate in made.gates]) == ((), ["instructions"])
