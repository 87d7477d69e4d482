"""JUnit XML against its common schema. What a case means: common practice, no published source."""

from __future__ import annotations

import functools
from pathlib import Path
from xml.etree import ElementTree

import pytest
import xmlschema
from drawing import most
from hypothesis import given
from report.hand_made import CROSSED, SPELLING
from report.said import LEVELS, reports

from orderlint.finding import Level, Place, Suppressed, Verdict
from orderlint.report.ci.junit import NOTHING, READING, render
from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult, fails_run
from orderlint.report.unchecked_files import Unread
from orderlint.report.visible_text import safe

FOUND, SPELT = CiResult(CROSSED, "1:1"), CiResult(SPELLING, "2:1")
STATES = ("failure", "error", "skipped")


@functools.cache
def xsd():
    """Made when first asked for: it takes a while."""
    return xmlschema.XMLSchema(str(Path(__file__).parents[1] / "schemas/published/junit-10.xsd"))


def read(text):
    xsd().validate(text)
    return ElementTree.fromstring(text)


def of(*results, unread=()):
    checked = CheckedDocument(
        "order.yaml", "order", Verdict.NOTE, results, ("Look.",), ("Checked by hand.",)
    )
    return CiReport((checked,), unread, {})


def state(case):
    return next((name for name in STATES if case.find(name) is not None), "passed")


def cases(report, fail_at=Level.CLARIFY):
    return {
        case.get("name"): state(case) for case in read(render(report, fail_at)).iter("testcase")
    }


@most(60)
@given(reports(), LEVELS)
def test_any_report_is_valid_and_its_counts_are_right(report, fail_at):
    text = render(report, fail_at)
    text.encode("utf-8")
    top = read(text)
    assert len(top) == len(report.checked) + len(report.unread)
    for suite in top:
        told = [state(case) for case in suite.iter("testcase")]
        assert told
        assert int(suite.get("tests")) == len(told)
        for count, name in zip(("failures", "errors", "skipped"), STATES, strict=True):
            assert int(suite.get(count)) == told.count(name)
        names = [case.get("name") for case in suite.iter("testcase")]
        assert len(set(names)) == len(names)
    for count in ("tests", "failures", "errors"):
        assert int(top.get(count)) == sum(int(suite.get(count)) for suite in top)


@most(60)
@given(reports(), LEVELS)
def test_what_fails_is_what_counts_and_nothing_that_was_said_passes(report, fail_at):
    top = read(render(report, fail_at))
    for checked, suite in zip(report.checked, top, strict=False):
        told = [state(case) for case in suite.iter("testcase")]
        due = [
            ("error" if result.is_open else "failure") if fails_run(result, fail_at) else "skipped"
            for result in checked.results
        ]
        assert told == (due or ["passed"])
    for suite in list(top)[len(report.checked) :]:
        assert [state(case) for case in suite.iter("testcase")] == ["error"]


@most(60)
@given(reports())
def test_every_word_comes_through_as_it_is_shown(report):
    top = read(render(report, Level.NOTE))
    for checked, suite in zip(report.checked, top, strict=False):
        assert suite.get("name") == safe(checked.file)
        for result, case in zip(checked.results, suite.iter("testcase"), strict=False):
            (element,) = case
            assert safe(result.finding.says) in element.get("message")
            assert element.get("type") == result.finding.level.value
            assert safe(result.finding.why) in element.text


def test_a_finding_is_a_failure_with_its_words():
    (case,) = read(render(of(FOUND), Level.CLARIFY)).iter("testcase")
    assert (case.get("name"), case.get("classname")) == ("drain-above-treat-above", "order.yaml")
    (failure,) = case
    assert (failure.tag, failure.get("type")) == ("failure", "do-not-start")
    assert failure.get("message") == f"{CROSSED.says} Ask the prescriber: {CROSSED.ask}"
    assert "Place: order.yaml:10:20" in failure.text
    assert "With: Treat-above level: 8 mmHg (order.yaml:9:14)" in failure.text


TOLD = Suppressed(CROSSED, "Agreed", "the board", "2026-09-30", Place("policy.yaml", 4, 5))


@pytest.mark.parametrize(
    ("result", "fail_at", "due", "words"),
    [
        (FOUND, Level.CLARIFY, "failure", ""),
        (FOUND._replace(is_open=True), Level.CLARIFY, "error", ""),
        (SPELT, Level.CLARIFY, "skipped", "Below clarify"),
        (SPELT, Level.NOTE, "failure", ""),
        (SPELT._replace(is_open=True), Level.CLARIFY, "skipped", "Below clarify"),
        (FOUND._replace(suppressed=TOLD), Level.NOTE, "skipped", "Suppressed by the policy until"),
        (FOUND._replace(known=True), Level.NOTE, "skipped", "Known already"),
        (FOUND._replace(known=False), Level.NOTE, "failure", ""),
    ],
)
def test_what_becomes_of_a_result(result, fail_at, due, words):
    (case,) = read(render(of(result), fail_at)).iter("testcase")
    assert state(case) == due
    assert case[0].get("message").startswith(words)


def test_a_second_case_of_a_rule_has_a_number():
    report = of(FOUND, FOUND._replace(is_open=True))
    assert cases(report) == {
        "drain-above-treat-above": "failure",
        "drain-above-treat-above (2)": "error",
    }


def test_a_file_with_nothing_in_it_passes_and_says_what_was_checked():
    top = read(render(of(), Level.CLARIFY))
    assert cases(of()) == {NOTHING: "passed"}
    told = top.find("testsuite/system-out").text
    assert told.startswith("Look.\nChecked by hand.\nCaution: this is decision support.")


@pytest.mark.parametrize(("is_fault", "kind"), [(False, "refused"), (True, "fault of the tool")])
def test_a_file_not_read_is_an_error(is_fault, kind):
    report = CiReport((), (Unread("b.yaml", "Bad.", Place("b.yaml", 3, 1), None, is_fault),), {})
    assert cases(report) == {READING: "error"}
    (error,) = next(read(render(report, Level.CLARIFY)).iter("testcase"))
    assert (error.get("type"), error.get("message")) == (kind, "Bad.")
    assert "b.yaml:3:1" in error.text
