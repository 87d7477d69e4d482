"""Lines as the GNU coding standards have error messages: `file:line:column: message`."""

from __future__ import annotations

import re

import pytest
from drawing import most
from hypothesis import given
from report.hand_made import CROSSED, SPELLING
from report.said import HIDDEN, reports

from orderlint.finding import Place, Suppressed, Verdict
from orderlint.report.ci.line import render
from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult
from orderlint.report.unchecked_files import Unread
from orderlint.report.visible_text import safe

FOUND, SPELT = CiResult(CROSSED, "1:1"), CiResult(SPELLING, "2:1")
# GNU coding standards, "Formatting Error Messages": line and column count from 1, and a message
# that is of no file begins with the name of the program.
GNU = re.compile(r"(?P<file>.+?):(?P<line>[1-9]\d*):(?P<column>[1-9]\d*): (?P<level>\w+): .*")


def of(*results, unread=()):
    checked = CheckedDocument(
        "order.yaml", "order", Verdict.NOTE, results, ("Look.",), ("Checked by hand.",)
    )
    return CiReport((checked,), unread, {})


def lines(report, unread=False):
    text = render(report, unread=unread)
    assert text.endswith("\n")
    return text.removesuffix("\n").split("\n")


def test_a_finding_is_one_line():
    warning, line, basis, caution = lines(of(FOUND))
    assert warning == "orderlint: order.yaml: Look."
    assert line == (
        f"order.yaml:10:20: error: drain-above-treat-above: {CROSSED.says} "
        f"Ask the prescriber: {CROSSED.ask}"
    )
    assert basis == "orderlint: order.yaml: Checked by hand."
    assert caution.startswith("orderlint: Caution: this is decision support.")


TOLD = Suppressed(SPELLING, "Agreed", "the board", "2026-09-30", Place("policy.yaml", 4, 5))


@pytest.mark.parametrize(
    ("result", "start"),
    [
        (SPELT, "order.yaml:11:3: note: unit-run-together: Number and unit"),
        (
            FOUND._replace(known=True),
            "order.yaml:10:20: note: drain-above-treat-above: Known already",
        ),
        (
            FOUND._replace(suppressed=TOLD),
            "order.yaml:10:20: note: drain-above-treat-above: Suppressed by the policy until",
        ),
    ],
)
def test_what_a_line_begins_with(result, start):
    assert lines(of(result))[1].startswith(start)


def test_files_not_read_have_lines_where_they_stand_nowhere_else():
    twice = Unread("b.yaml", "Twice.", Place("b.yaml", 3, 1), Place("b.yaml", 2, 1))
    report = of(
        unread=(Unread("a", "Gone."), twice, Unread("c", "orderlint: failed.", is_fault=True))
    )
    assert lines(report, unread=True)[1:4] == [
        "a: error: Gone.",
        "b.yaml:3:1: error: Twice. (the other is at b.yaml:2:1)",
        "orderlint: failed.",
    ]
    assert len(lines(report)) == 3


@most(100)
@given(reports())
def test_every_result_has_one_line_of_the_form_whatever_its_texts(report):
    told = lines(report, unread=True)
    assert not any(map(HIDDEN.search, told))
    results = [result for checked in report.checked for result in checked.results]
    said = [len(checked.warnings) + len(checked.basis) for checked in report.checked]
    assert len(told) == len(results) + len(report.unread) + sum(said) + 1
    for result in results:
        place = result.finding.place
        start = f"{safe(place.file)}:{place.line}:{place.column}: "
        (line, *_) = [line for line in told if line.startswith(start)]
        assert GNU.fullmatch(line)
