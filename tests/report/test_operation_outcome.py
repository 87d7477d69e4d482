"""An OperationOutcome of FHIR R4 (4.0.1): https://hl7.org/fhir/R4/operationoutcome.html."""

from __future__ import annotations

import json
import re

import pytest
from drawing import most
from hypothesis import given
from report.hand_made import CROSSED, SPELLING
from report.said import HIDDEN, reports
from running import AT, CLEAN, run

from orderlint.api.policies import rulebook_for
from orderlint.finding import Level, Place, Suppressed, Verdict
from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult
from orderlint.report.ci.operation_outcome import render
from orderlint.report.unchecked_files import Unread

# https://hl7.org/fhir/R4/valueset-issue-severity.html and valueset-issue-type.html.
SEVERITIES = {"fatal", "error", "warning", "information"}
TYPES = {
    *("invalid", "structure", "required", "value", "invariant", "security", "login", "unknown"),
    *("expired", "forbidden", "suppressed", "processing", "not-supported", "duplicate"),
    *("multiple-matches", "not-found", "deleted", "too-long", "code-invalid", "extension"),
    *("too-costly", "business-rule", "conflict", "transient", "lock-error", "no-store"),
    *("exception", "timeout", "incomplete", "throttled", "informational"),
}
STRING = re.compile(r"[ \r\n\t\S]+", re.ASCII)
"""The standard's pattern of a string, which is never empty."""
MINIMAL = CLEAN.with_name("minimal.yaml")


def issues_of(report):
    """The issues of a report, each as the standard has them."""
    outcome = json.loads(render(report))
    assert set(outcome) == {"resourceType", "issue"}
    assert outcome["resourceType"] == "OperationOutcome"
    assert outcome["issue"]
    for issue in outcome["issue"]:
        well_formed(issue)
    return outcome["issue"]


def well_formed(issue):
    assert set(issue) <= {"severity", "code", "details", "diagnostics", "expression"}
    assert issue["severity"] in SEVERITIES
    assert issue["code"] in TYPES
    details = issue.get("details", {"text": "x"})
    assert details
    assert set(details) <= {"coding", "text"}
    texts = [details.get("text", "x"), issue.get("diagnostics", "x")]
    assert all(map(STRING.fullmatch, [*texts, *issue.get("expression", ["x"])]))


def of(*results, unread=()):
    rules = rulebook_for("order", None).rules
    checked = CheckedDocument(
        "order.yaml", "order", Verdict.NOTE, results, ("Look.",), ("Checked by hand.",)
    )
    return CiReport((checked,), unread, rules)


def test_a_finding_is_an_issue_with_its_rule_words_and_place():
    place, (other,) = CROSSED.place._replace(element="Bundle.id"), CROSSED.also
    also = other._replace(place=other.place._replace(element="Bundle.type"))
    in_a_resource = CROSSED._replace(place=place, also=(also,))
    warning, basis, issue, caution = issues_of(of(CiResult(in_a_resource, "1:1")))
    assert warning["details"]["text"] == "Look."
    assert (issue["severity"], issue["code"]) == ("error", "business-rule")
    assert issue["details"]["coding"] == [
        {"system": "https://orderlint.example/fhir/rules", "code": "drain-above-treat-above"}
    ]
    assert issue["details"]["text"] == f"{CROSSED.says} Ask the prescriber: {CROSSED.ask}"
    assert "Drain height (drainage.height)" in issue["diagnostics"]
    assert "Place: order.yaml:10:20, Bundle.id" in issue["diagnostics"]
    assert "With: Treat-above level: 8 mmHg (order.yaml:9:14, Bundle.type)" in issue["diagnostics"]
    assert issue["expression"] == ["Bundle.id", "Bundle.type"]
    assert basis["details"]["text"] == "Checked by hand."
    assert "decision support" in caution["details"]["text"]


@pytest.mark.parametrize(
    ("level", "severity"),
    [(Level.DO_NOT_START, "error"), (Level.CLARIFY, "warning"), (Level.NOTE, "information")],
)
def test_severity_follows_the_level_of_findings_and_of_what_was_not_checked(level, severity):
    finding = CROSSED._replace(level=level)
    _, _, found, left, *_ = issues_of(
        of(CiResult(finding, ""), CiResult(finding, "", is_open=True))
    )
    assert (found["severity"], left["severity"]) == (severity, severity)
    assert (found["code"], left["code"]) == ("business-rule", "processing")


@pytest.mark.parametrize(
    ("rule", "family", "code"),
    [
        ("missing-treat-above", "complete", "required"),
        ("kind-not-expected", "shape", "structure"),
        ("key-not-known", "shape", "structure"),
        ("unit-not-known", "units", "value"),
        ("unit-run-together", "notation", "business-rule"),
    ],
)
def test_the_type_of_an_issue_says_how_it_was_found(rule, family, code):
    finding = SPELLING._replace(rule=rule, family=family)
    assert issues_of(of(CiResult(finding, "")))[2]["code"] == code


@pytest.mark.parametrize("verdict", Verdict)
def test_the_verdict_comes_first_and_only_note_and_clear_are_no_more_than_information(verdict):
    checked = CheckedDocument("order.yaml", "order", verdict, (), (), ("Verdict.", "More."))
    first, more, _ = issues_of(CiReport((checked,), (), {}))
    expected = {"do-not-start": "error", "clarify": "warning", "incomplete": "warning"}
    assert first["severity"] == expected.get(verdict.value, "information")
    assert (first["details"]["text"], more["severity"]) == ("Verdict.", "information")


def test_a_suppressed_finding_is_information_that_says_by_whom():
    told = Suppressed(CROSSED, "Agreed", "the board", "2026-09-30", Place("policy.yaml", 4, 5))
    issue = issues_of(of(CiResult(CROSSED, "", suppressed=told)))[2]
    assert issue["severity"] == "information"
    assert issue["details"]["text"].startswith("Suppressed by the policy until 2026-09-30: Agreed.")


def test_a_file_that_was_not_checked_is_fatal():
    gone, failed = Unread("a", "Gone."), Unread("c", "orderlint: failed.", is_fault=True)
    *_, refused, fault, _ = issues_of(of(unread=(gone, failed)))
    assert (refused["severity"], refused["code"]) == ("fatal", "invalid")
    assert (refused["details"]["text"], refused["diagnostics"]) == ("Gone.", "a")
    assert (fault["severity"], fault["code"]) == ("fatal", "exception")


@pytest.mark.slow
@given(reports())
@most(300)
def test_any_report_is_a_valid_outcome_that_shows_all_that_is_in_it(report):
    issues = issues_of(report)
    results = [result for checked in report.checked for result in checked.results]
    coded = [c["code"] for i in issues for c in i.get("details", {}).get("coding", ())]
    assert coded == [result.finding.about for result in results]
    assert sum(issue["severity"] == "fatal" for issue in issues) == len(report.unread)
    assert not HIDDEN.search(render(report).replace("\n", ""))


def test_the_verb_gives_findings_what_was_not_checked_and_the_verdict():
    ran = run("verify", "--format", "fhir", *AT, MINIMAL)
    data = json.loads(run("verify", "--format", "json", *AT, MINIMAL).out)["documents"][0]
    issues = json.loads(ran.out)["issue"]
    coded = [c["code"] for i in issues for c in i["details"].get("coding", ())]
    assert coded == [item["rule"] for item in (*data["findings"], *data["unchecked"])]
    assert data["unchecked"]
    assert any(i["details"]["text"].startswith("Verdict: CLARIFY") for i in issues)
    assert ran.status == 1


def test_a_clear_order_has_an_outcome_that_says_what_was_checked():
    ran = run("verify", "--format", "fhir", *AT, CLEAN)
    texts = [issue["details"]["text"] for issue in json.loads(ran.out)["issue"]]
    assert texts[0].startswith("Verdict: CLEAR. None of the rules asked found anything.")
    assert any(text.startswith("Checked: ") for text in texts)
    assert ran.status == 0


def test_what_a_bundle_does_not_say_plainly_stands_in_each_form_for_programs(tmp_path):
    entry = {"resource": {"resourceType": "DeviceRequest", "intent": "order", "priorRequest": {}}}
    code = {
        "coding": [{"system": "https://orderlint.example/fhir/order-settings", "code": "order"}]
    }
    entry["resource"] |= {"codeCodeableConcept": code, "status": "active", "doNotPerform": True}
    bundle = {"resourceType": "Bundle", "type": "collection", "entry": [entry]}
    file = tmp_path / "order.json"
    file.write_text(json.dumps(bundle), encoding="utf-8")
    for form in ("sarif", "junit", "line", "fhir"):
        ran = run("verify", "--format", form, *AT, file)
        assert (ran.status, ran.err) == (1, "")
        assert "fhir-not-to-be-done" in ran.text
        assert "fhir-element-not-understood" in ran.text
    held = json.loads(run("verify", "--format", "fhir", *AT, file).out)["issue"]
    assert ["Bundle.entry[0].resource.doNotPerform"] in [each.get("expression") for each in held]
