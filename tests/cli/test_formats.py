"""Each example order in each format that CI reads: valid, with all that JSON has, same status."""

from __future__ import annotations

import functools
import json
from pathlib import Path
from xml.etree import ElementTree

import core_yaml
import pytest
from jsonschema import Draft4Validator
from running import AT, CLEAN, run

EXAMPLES = CLEAN.parent
PUBLISHED = Path(__file__).parents[1] / "schemas/published"
SARIF = Draft4Validator(
    json.loads((PUBLISHED / "sarif-2.1.0-rtm.5.json").read_text(encoding="utf-8"))
)
LEAST_TOOL = {"driver": {"name": "a tool"}}
SOUND_TOOLS = []
"""Tools that stood in a valid report."""
NAMES = sorted(core_yaml.load_file(EXAMPLES / "expected.yaml"))
FORMATS = ("text", "json", "sarif", "junit", "line")
LEVELS = {"do-not-start": "error", "clarify": "warning", "note": "note"}
POLICY = EXAMPLES / "policy-adult-unit.yaml"


@functools.cache
def junit():
    """Made when first asked for: it takes a while."""
    import xmlschema  # noqa: PLC0415 - so does this

    return xmlschema.XMLSchema(str(PUBLISHED / "junit-10.xsd"))


def in_each(*arguments, stdin=b""):
    """What a call gives in each format, all with the same status."""
    ran = {name: run("verify", "--format", name, *AT, *arguments, stdin=stdin) for name in FORMATS}
    assert len({item.status for item in ran.values()}) == 1
    return ran


@functools.lru_cache(maxsize=8)
def sarif_in(report):
    data = json.loads(report)
    (told,) = data["runs"]
    tool = told["tool"]
    if tool in SOUND_TOOLS:  # the table of all rules, which most reports share
        told["tool"] = LEAST_TOOL
    assert [f"{error.json_path}: {error.message}" for error in SARIF.iter_errors(data)] == []
    SOUND_TOOLS.append(tool)
    told["tool"] = tool
    return told


def sarif_of(ran):
    return sarif_in(ran["sarif"].out)


@functools.lru_cache(maxsize=8)
def junit_in(report):
    junit().validate(report)
    return ElementTree.fromstring(report)


def junit_of(ran):
    return junit_in(ran["junit"].out.decode())


def lines_of(ran):
    told = ran["line"].out.decode().splitlines()
    return [line for line in told if not line.startswith("orderlint: ")]


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_an_example_in_each_format(name):
    for fail_at in ("do-not-start", "note"):
        told_alike(in_each("--fail-at", fail_at, EXAMPLES / name))


def told_alike(ran):
    (document,) = json.loads(ran["json"].out)["documents"]
    found, left = document["findings"], document["unchecked"]
    due = [item["rule"] for item in (*found, *left)]
    results = sarif_of(ran)["results"]
    assert [result["ruleId"] for result in results] == due
    levels = [LEVELS[item["level"]] for item in found] + ["none"] * len(left)
    assert [result["level"] for result in results] == levels
    places = [item["place"] for item in found]
    regions = [result["locations"][0]["physicalLocation"]["region"] for result in results]
    assert regions[: len(found)] == [
        {"startLine": place["line"], "startColumn": place["column"]} for place in places
    ]
    lines = lines_of(ran)
    assert [line.split(": ")[2] for line in lines] == due
    assert [line.split(": ")[1] for line in lines] == [
        LEVELS[item["level"]] for item in (*found, *left)
    ]
    assert len(list(junit_of(ran).iter("testcase"))) == max(1, len(due))
    fails = [*junit_of(ran).iter("failure"), *junit_of(ran).iter("error")]
    assert bool(fails) == (ran["junit"].status == 1)


@pytest.mark.slow
def test_a_policys_suppressions_stand_in_each_format():
    ran = in_each("--policy", POLICY, EXAMPLES / "minimal.yaml")
    (document,) = json.loads(ran["json"].out)["documents"]
    (told,) = document["suppressed"]
    results = sarif_of(ran)["results"]
    (silent,) = [result for result in results if result["suppressions"]]
    assert silent["ruleId"] == told["finding"]["rule"]
    assert told["reason"].rstrip(".") in silent["suppressions"][0]["justification"]
    assert told["approved_by"] in silent["suppressions"][0]["justification"]
    assert any(told["approved_by"] in line for line in lines_of(ran))
    skipped = [item.get("message") for item in junit_of(ran).iter("skipped")]
    assert any(told["approved_by"] in words for words in skipped)


def test_what_an_active_order_needs_first_stands_in_each_format():
    order = EXAMPLES / "active-drain-over-upper-pause.yaml"
    ran = in_each(order)
    assert "Already running?" in sarif_of(ran)["artifacts"][0]["description"]["text"]
    assert junit_of(ran).find("testsuite/system-out").text.startswith("Already running?")
    assert ran["line"].out.decode().startswith(f"orderlint: {order}: Already running?")


@pytest.mark.parametrize("form", FORMATS)
def test_every_format_ends_with_what_was_checked_and_the_caution(form):
    ran = run("verify", "--format", form, *AT, CLEAN)
    assert ran.status == 0
    if form != "json":  # its schema has the caution
        assert "decision support" in ran.text
    assert "built-in policy" in ran.text
    assert (
        "2026-03-02 15:30 (UTC-06:00)" if form == "text" else "2026-03-02T21:30:00Z"
    ) in ran.text


def test_files_refused_and_standard_input(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("broken order.yaml").write_bytes(b"document: order\nformat: 1\nid: &a b\n")
    ran = in_each("broken order.yaml", "-", "none.yaml", stdin=CLEAN.read_bytes())
    assert ran["sarif"].status == 2
    told = sarif_of(ran)
    notes = told["invocations"][0]["toolExecutionNotifications"]
    assert [
        note["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] for note in notes
    ] == [
        "broken%20order.yaml",
        "none.yaml",
    ]
    assert told["artifacts"][0]["location"]["uri"] == "%3Cstdin%3E"
    states = [[child.tag for child in case] for case in junit_of(ran).iter("testcase")]
    assert states == [[], ["error"], ["error"]]
    assert lines_of(ran) == []
    assert ran["line"].err.startswith("broken order.yaml:3:5: Anchors")
    output = tmp_path / "lines.txt"
    run("verify", "--format", "line", "--output", output, "broken order.yaml", "none.yaml")
    first, second, _ = output.read_text("utf-8").splitlines()
    assert first.startswith("broken order.yaml:3:5: error: Anchors")
    assert second == "none.yaml: error: There is no such file."


def test_a_refused_policy_in_each_format(tmp_path):
    policy = tmp_path / "policy.yaml"
    policy.write_bytes(b"document: site-policy\nformat: 1\nnonsense: 1\n")
    ran = in_each("--policy", policy, CLEAN)
    assert ran["sarif"].status == 2
    assert sarif_of(ran)["invocations"][0]["executionSuccessful"] is False
    assert [case[0].tag for case in junit_of(ran).iter("testcase")] == ["error"]


@pytest.mark.parametrize("form", FORMATS)
def test_two_runs_give_the_same_bytes(form):
    orders = [EXAMPLES / "unsafe-notation.yaml", EXAMPLES / "minimal.yaml"]
    call = ("verify", "--format", form, "--policy", POLICY, *AT, *orders)
    assert run(*call).out == run(*call).out


def test_a_full_name_under_this_folder_is_relative_in_sarif(monkeypatch):
    monkeypatch.chdir(EXAMPLES)
    (artifact,) = sarif_of(in_each(CLEAN))["artifacts"]
    assert artifact["location"]["uri"] == "clean.yaml"


def test_a_folder_that_is_gone_is_no_fault(monkeypatch):
    def gone():
        raise FileNotFoundError(2, "No such file or directory")

    monkeypatch.setattr("os.getcwd", gone)
    ran = run("verify", "--format", "sarif", *AT, CLEAN)
    assert ran.status == 0
    uri = json.loads(ran.out)["runs"][0]["artifacts"][0]["location"]["uri"]
    assert uri.startswith("file:///")
