"""Each check leaves one line, of digests and ids alone, and a failure to record hides nothing."""

from __future__ import annotations

import hashlib
import json
import re
from datetime import UTC, datetime

import duckdb
import pytest
from jsonschema import Draft202012Validator, FormatChecker
from running import AT, CLEAN, run

from orderlint import __version__
from orderlint.fields import load_schema
from orderlint.finding import Verdict

FOLDER = CLEAN.parent
CROSSED = FOLDER / "pause-limits-reversed.yaml"
POLICY = FOLDER / "policy-adult-unit.yaml"
SCHEMA = load_schema("check-record")
LINES = Draft202012Validator(SCHEMA, format_checker=FormatChecker())
pytestmark = pytest.mark.usefixtures("worked_out_once")


@pytest.fixture
def record(tmp_path):
    return tmp_path / "record.jsonl"


def lines_of(record):
    """The lines of a record, each as the schema has it."""
    lines = [json.loads(line) for line in record.read_text(encoding="ascii").splitlines()]
    assert [error.message for line in lines for error in LINES.iter_errors(line)] == []
    return lines


def digest(file):
    return hashlib.sha256(file.read_bytes()).hexdigest()


CALLS = {
    "verify": (CROSSED,),
    "compare": (CLEAN, FOLDER / "next-revision.yaml"),
    "readback": (CLEAN, FOLDER / "seen-in-the-other-unit.yaml"),
    "review": (FOLDER / "set-irrigation-corners.yaml",),
}


@pytest.mark.slow
@pytest.mark.parametrize("verb", CALLS)
def test_a_line_has_what_the_report_has_by_ids_and_digests(verb, record):
    files = CALLS[verb]
    begun = datetime.now(UTC).replace(microsecond=0)
    ran = run(verb, *AT, "--record", record, "--format", "json", *files)
    (line,) = lines_of(record)
    assert begun <= datetime.fromisoformat(line.pop("recorded")) <= datetime.now(UTC)
    report = json.loads(ran.out)
    report = report["documents"][0] if "documents" in report else report
    once = dict.fromkeys((f["rule"], f["level"]) for f in report["findings"])
    found = [{"rule": rule, "level": level} for rule, level in once]
    read = files[:1] if verb == "readback" else files
    assert {**line, "findings": line["findings"][: len(found)]} == {
        "format": 1,
        "as_of": "2026-03-02T21:30:00Z",
        "verb": verb,
        "version": __version__,
        "documents": [digest(file) for file in read],
        "policy": "built-in",
        "verdict": report["verdict"],
        "findings": found,
        "unchecked": [{"rule": u["rule"], "level": u["level"]} for u in report["unchecked"]],
        "suppressed": [],
        "status": ran.status,
    }
    assert line["findings"]


def test_the_schema_is_one_and_has_every_verdict_and_verb():
    Draft202012Validator.check_schema(SCHEMA)
    assert set(SCHEMA["properties"]["verdict"]["enum"]) == {*Verdict, None}
    assert set(SCHEMA["properties"]["verb"]["enum"]) == {*CALLS, "feedback", "serve"}
    always, of_check = set(SCHEMA["required"]), set(SCHEMA["else"]["required"])
    of_feedback = set(SCHEMA["then"]["required"])
    assert always | of_check | of_feedback == set(SCHEMA["properties"])
    assert set(SCHEMA["then"]["properties"]) == of_check
    assert set(SCHEMA["else"]["properties"]) == of_feedback - {"card"}


@pytest.mark.parametrize("verb", CALLS)
def test_nothing_of_a_document_is_in_a_line(verb, record):
    run(verb, *AT, "--record", record, *CALLS[verb])
    (line,) = lines_of(record)
    others = {"findings", "unchecked", "recorded"}  # a day of today's may stand in the document too
    words = json.dumps({k: v for k, v in line.items() if k not in others})
    texts = "\n".join(file.read_text(encoding="utf-8") for file in CALLS[verb])
    said = set(re.findall(r": *([^\n#{}]{4,}?) *$", texts, re.MULTILINE))
    assert len(said) > 10
    assert not [value for value in said if value in words]
    assert not [file.name for file in CALLS[verb] if file.stem in words]


def test_findings_of_the_order_by_itself_count_in_a_read_back(record):
    ran = run("readback", *AT, "--record", record, "--set", "pause.upper=22 mmHg", CROSSED)
    (line,) = lines_of(record)
    assert (line["verdict"], line["status"]) == ("do-not-start", ran.status)
    assert {"rule": "pause-limits-reversed", "level": "do-not-start"} in line["findings"]
    rules = [item["rule"] for item in line["findings"]]
    assert len(rules) == len({*rules})


def test_each_file_has_a_line_with_its_own_status_also_one_that_is_refused(record, tmp_path):
    no_order, too_large = tmp_path / "no-order.yaml", tmp_path / "too-large.yaml"
    no_order.write_text("just a text")
    too_large.write_bytes(b"#" * (1024 * 1024 + 1))
    files = no_order, CROSSED, tmp_path / "not-there.yaml", CLEAN, too_large
    ran = run("verify", *AT, "--record", record, *files)
    assert ran.status == 2
    assert [(*line["documents"], line["verdict"], line["status"]) for line in lines_of(record)] == [
        (digest(CROSSED), "do-not-start", 1),
        (digest(CLEAN), "clear", 0),
        (digest(no_order), None, 2),
        (None, None, 2),
        (None, None, 2),
    ]


@pytest.mark.parametrize("verb", ["compare", "readback"])
@pytest.mark.parametrize("there", [True, False])
def test_what_is_compared_and_refused_has_a_line(verb, there, record, tmp_path):
    second = tmp_path / "second.yaml"
    if there:
        second.write_text("just a text")
    ran = run(verb, *AT, "--record", record, CLEAN, second)
    (line,) = lines_of(record)
    assert (line["verdict"], line["status"], ran.status) == (None, 2, 2)
    of_second = [digest(second) if there else None] if verb == "compare" else []
    assert line["documents"] == [digest(CLEAN), *of_second]


@pytest.mark.slow
def test_a_set_that_is_all_new_has_the_verdict_of_its_review(record, monkeypatch):
    file = FOLDER / "set-irrigation-corners.yaml"
    monkeypatch.setattr("orderlint.cli.revisions.read_earlier", lambda *_: None)
    assert run("compare", *AT, "--record", record, "--against", "main", file).status == 1
    (line,) = lines_of(record)
    assert (line["verdict"], line["status"]) == ("do-not-start", 1)
    assert line["documents"] == [None, digest(file)]
    assert line["findings"]


def test_a_policy_is_known_by_its_digest_and_what_it_suppresses_is_kept(record):
    file = FOLDER / "minimal.yaml"
    run("verify", *AT, "--record", record, "--policy", POLICY, file)
    (line,) = lines_of(record)
    assert line["policy"] == digest(POLICY)
    assert line["suppressed"]


@pytest.mark.parametrize("verb", CALLS)
def test_nothing_is_recorded_under_a_policy_that_is_refused(verb, record):
    assert run(verb, "--record", record, "--policy", CLEAN, *CALLS[verb]).status == 2
    assert not record.exists()


def test_a_read_back_that_is_stopped_is_no_check(record, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("readback", "--record", record, CLEAN, stdin=b"stop\n").status == 3
    assert not record.exists()


def test_a_lower_level_counts_for_the_status_alone(record):
    file = FOLDER / "child.yaml"
    for level in ("note", "do-not-start"):
        run("verify", *AT, "--record", record, "--fail-at", level, file)
    first, second = lines_of(record)
    assert (first["status"], second["status"]) == (1, 0)
    assert first["findings"] == second["findings"]


@pytest.mark.parametrize("verb", CALLS)
def test_a_fault_of_the_tool_has_a_line(verb, record, monkeypatch):
    def fail(*_, **__):
        raise ZeroDivisionError

    for room in ("api.verbs.verify_content", "set_review.review_set"):
        monkeypatch.setattr(f"orderlint.{room}", fail)
    monkeypatch.setattr("orderlint.comparison.orders.verify_order", fail)
    monkeypatch.setattr("orderlint.readback.result.verify_order", fail)
    assert run(verb, *AT, "--record", record, *CALLS[verb]).status == 70
    (line,) = lines_of(record)
    assert (line["verdict"], line["status"]) == (None, 70)
    assert line["documents"][0] == digest(CALLS[verb][0])


@pytest.mark.parametrize("verb", CALLS)
def test_what_cannot_be_recorded_is_said_after_the_report(verb, record):
    report = run(verb, *AT, *CALLS[verb])
    record.mkdir()
    ran = run(verb, *AT, "--record", record, *CALLS[verb])
    assert ran.out == report.out
    assert ran.status == 2
    said = f"The check was not recorded. Nothing could be appended to {record}: it is a directory."
    assert ran.err.splitlines()[-1] == said


@pytest.mark.parametrize("verb", CALLS)
def test_a_report_that_could_not_be_written_is_so_in_the_line(verb, record, tmp_path):
    ran = run(verb, *AT, "--record", record, "--output", tmp_path / "none/report", *CALLS[verb])
    (line,) = lines_of(record)
    assert (line["status"], ran.status) == (2, 2)
    assert line["verdict"]


@pytest.mark.parametrize("verb", CALLS)
@pytest.mark.parametrize("name", ["-", "", "an input", "report", POLICY])
def test_a_record_is_a_file_of_its_own(verb, name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    name = CALLS[verb][-1] if name == "an input" else name
    given = ("--policy", POLICY, "--output", "report", "--record", name)
    ran = run(verb, *given, *CALLS[verb])
    assert (ran.status, ran.out) == (2, b"")
    assert "--record" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_an_order_is_never_appended_to(tmp_path):
    order = tmp_path / "order.yaml"
    order.write_bytes(CLEAN.read_bytes())
    ran = run("verify", *AT, "--record", order, CROSSED)
    assert ran.status == 2
    assert "it holds something else" in ran.err
    assert order.read_bytes() == CLEAN.read_bytes()


def test_a_recheck_records_nothing():
    ran = run("review", "--recheck", "certificate", "--record", "record", *CALLS["review"])
    assert ran.status == 2
    assert "--recheck" in ran.err


@pytest.mark.parametrize("verb", ["ask", "plan", "rules"])
def test_what_is_no_check_takes_no_record(verb):
    ran = run(verb, "--record", "record")
    assert ran.status == 2
    assert "No such option '--record'" in ran.err


def test_a_database_counts_what_is_recorded(record):
    for file in (CLEAN, CROSSED, CROSSED):
        run("verify", *AT, "--record", record, file)
    run("verify", *AT, "--record", record, POLICY)
    read = f"read_json('{record}', format = 'newline_delimited')"
    counts = duckdb.sql(
        f"select verdict, status, count(*) from {read} group by all order by status"
    ).fetchall()
    assert counts == [("clear", 0, 1), ("do-not-start", 1, 2), (None, 2, 1)]
    rules = duckdb.sql(
        f"select f.rule, count(*) from (select unnest(findings) as f from {read}) group by all"
    ).fetchall()
    assert rules == [("pause-limits-reversed", 2)]
