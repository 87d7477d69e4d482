"""`verify --policy`: a policy that reads is applied and named; else nothing is checked."""

from __future__ import annotations

import json

from jsonschema import Draft202012Validator
from policy_files import RULE, site_policy, suppression
from running import AT, CLEAN, run

from orderlint.fields import load_schema

FINDINGS = Draft202012Validator(load_schema("findings"))


def written(tmp_path, parts):
    file = tmp_path / "unit.yaml"
    file.write_text(site_policy(parts), encoding="utf-8")
    return file


def test_a_policy_is_applied_and_named(tmp_path):
    policy = written(tmp_path, RULE.replace("8 mmHg", "21 mmHg"))
    ran = run("verify", "--detail", *AT, "--policy", policy, CLEAN)
    assert ran.status == 1
    assert "Rule: demo" in ran.text
    assert "under “a demo unit”" in ran.text


def test_what_is_suppressed_is_in_both_reports(tmp_path):
    order = tmp_path / "order.yaml"
    lines = CLEAN.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = (line for line in lines if not line.startswith("prescriber"))
    order.write_text("".join(kept), encoding="utf-8")
    policy = written(tmp_path, suppression("missing-prescriber"))
    text = run("verify", *AT, "--policy", policy, order)
    assert text.status == 0
    assert "Verdict: CLEAR" in text.text
    assert (
        "1 finding is suppressed by the policy, named below; the heaviest is CLARIFY." in text.text
    )
    assert "Suppressed until 2030-01-01T00:00:00Z: invented" in text.text
    assert f"Approved by: a committee ({policy}:5:12)" in text.text
    data = json.loads(run("verify", *AT, "--format", "json", "--policy", policy, order).out)
    assert [error.message for error in FINDINGS.iter_errors(data)] == []
    (item,) = data["documents"][0]["suppressed"]
    assert item["finding"]["rule"] == "missing-prescriber"
    assert (item["reason"], item["approved_by"]) == ("invented", "a committee")
    assert item["policy_place"]["line"] == 5


def test_a_policy_with_a_mistake_checks_nothing(tmp_path):
    policy = written(tmp_path, "values: {}\nlevles: []\n")
    ran = run("verify", *AT, "--policy", policy, CLEAN)
    assert (ran.status, ran.out.strip()) == (2, b"")
    assert f"{policy}:5:1: a site policy has no key levles; did you mean levels?" in ran.err
    data = json.loads(run("verify", *AT, "--format", "json", "--policy", policy, CLEAN).out)
    assert data["documents"] == []
    assert data["refused"][0]["place"] == {"file": str(policy), "line": 5, "column": 1}


def test_an_order_is_no_policy_and_a_missing_file_is_none():
    assert "a site policy is wanted here" in run("verify", "--policy", CLEAN, CLEAN).err
    assert "no such file" in run("verify", "--policy", "nowhere.yaml", CLEAN).err


def test_a_policy_is_read_from_standard_input_but_no_order_beside_it():
    data = site_policy(RULE).encode()
    assert "a demo unit" in run("verify", *AT, "--policy", "-", CLEAN, stdin=data).text
    assert run("verify", "--policy", "-", "-").status == 2


def test_a_report_is_not_written_over_the_policy(tmp_path):
    policy = written(tmp_path, "")
    assert run("verify", "--policy", policy, "--output", policy, CLEAN).status == 2
    assert policy.read_text(encoding="utf-8") == site_policy("")
