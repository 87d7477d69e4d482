from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from running import AT, CLEAN, run

from orderlint.fields import load_schema
from orderlint.finding import Verdict
from orderlint.reading.unicode_checks import first_refused_offset
from orderlint.report.words import LABELS

FOLDER = CLEAN.parent
BROKEN = FOLDER / "drain-above-treat-above.yaml"
MESSAGES = Draft202012Validator(load_schema("message"))
PARTS = ("Situation", "Background", "Assessment", "Request", "Answer, read back:")


def test_a_message_has_its_parts_in_order():
    ran = run("ask", *AT, BROKEN)
    assert (ran.status, ran.err) == (1, "")
    found = [ran.out.decode().index(part) for part in PARTS]
    assert found == sorted(found)
    assert "____ calling, bed ____: order demo-0504 must not be started" in ran.text


def test_nothing_to_ask():
    ran = run("ask", *AT, CLEAN)
    assert (ran.status, "There is nothing to ask." in ran.text) == (0, True)
    assert "Situation" not in ran.text


def test_for_another_person_without_the_state_of_the_patient():
    ran = run("ask", *AT, "--whom", "pharmacy", FOLDER / "infant.yaml")
    assert "Background" not in ran.text
    assert "By which local policy for infants is this order to be checked?" in ran.text
    ran = run("ask", *AT, "--whom", "prescriber", FOLDER / "infant.yaml")
    assert "None of it is for the prescriber to answer." in ran.text
    assert "1 point for the pharmacy: orderlint ask --whom 'pharmacy'." in ran.text


@pytest.mark.parametrize(
    "whom", ["prescriber", "pharmacy", "second nurse", "transcriber", "author"]
)
@pytest.mark.parametrize("file", ["clean.yaml", "minimal.yaml", "carelessly-watched.yaml"])
def test_json_is_as_the_schema_says(file, whom):
    ran = run("ask", *AT, "--format", "json", "--whom", whom, FOLDER / file)
    made = json.loads(ran.out)
    assert [error.message for error in MESSAGES.iter_errors(made)] == []
    assert (made["to"], made["caution"][:7]) == (whom, "Caution")


def test_the_schema_of_messages_is_one():
    Draft202012Validator.check_schema(MESSAGES.schema)


def test_a_policy_is_asked_by():
    policy = FOLDER / "policy-childrens-unit.yaml"
    assert "children" in run("ask", *AT, "--whom", "pharmacy", FOLDER / "child.yaml").text
    ran = run("ask", *AT, "--policy", policy, "--whom", "pharmacy", FOLDER / "child.yaml")
    assert "None of it is for the pharmacy to answer." in ran.text


def test_it_opens_with_the_verdict_and_whom_to_call_and_leads_as_verify_does():
    for order in sorted(FOLDER.glob("*.yaml")):
        if b"\ndocument: order\n" not in order.read_bytes():
            continue
        asked = json.loads(run("ask", *AT, "--format", "json", order).out)
        report = json.loads(run("verify", *AT, "--format", "json", order).out)
        (found,) = report["documents"]
        text = run("ask", *AT, order).text
        assert f"to the {asked['to']}. Verdict: {LABELS[Verdict(found['verdict'])]}" in text
        assert ("There is nothing to ask." in text) is (not found["findings"])
        if found["findings"]:
            assert f"To call: the {asked['to']}" in text
            leading = {f["rule"] for f in found["findings"] if f["level"] == first_level(found)}
            assert set(asked["points"][0]["rules"]) & leading


def first_level(found):
    """The level of the heaviest finding: findings stand heaviest first."""
    return found["findings"][0]["level"]


@pytest.mark.parametrize("level", ["do-not-start", "clarify", "note"])
def test_the_status_is_that_of_the_order(level):
    options = (*AT, "--fail-at", level)
    for file in ("clean.yaml", "child.yaml", "minimal.yaml"):
        verified = run("verify", *options, FOLDER / file)
        assert run("ask", *options, FOLDER / file).status == verified.status


def test_wrong_use(tmp_path):
    kept = tmp_path / "order.yaml"
    kept.write_bytes(CLEAN.read_bytes())
    for wrong, message in (
        (("--output", kept, kept), "it would be lost"),
        (("--policy", "-", "-"), "can be read only once"),
        (("nowhere.yaml",), "There is no such file."),
    ):
        ran = run("ask", *AT, *wrong)
        assert (ran.status, ran.out) == (2, b"")
        assert message in ran.err
    assert kept.read_bytes() == CLEAN.read_bytes()


def test_an_output_file_has_the_message(tmp_path):
    file = tmp_path / "message.txt"
    assert run("ask", *AT, "--output", file, BROKEN).out == b""
    assert file.read_bytes() == run("ask", *AT, "--output", "-", BROKEN).out


@given(st.text(max_size=40))
def test_what_an_order_says_cannot_break_a_line_of_the_message(text):
    order = json.dumps({"document": "order", "format": 1, "id": text, "therapy": text}).encode()
    ran = run("ask", *AT, "-", stdin=order)
    assert ran.status in {1, 2}
    lines = ran.out.decode().split("\n")
    assert all(first_refused_offset(line) is None for line in lines)
    assert not lines[0] or lines.count("Situation") == 1
