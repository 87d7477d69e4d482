"""Writes a report as an OperationOutcome of FHIR R4 (4.0.1): an issue for each thing said.

Names and order of the elements. Never a decision, and never wording of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Level, Verdict
from orderlint.report.ci.model import finding_and_question, suppression_words
from orderlint.report.order.json import format_json
from orderlint.report.order.words import details, finding_heading
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION
from orderlint.rulebook.rule import MISSING_FAMILY, Rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.report.ci.model import CheckedDocument, CiReport, CiResult
    from orderlint.report.order.json import Member
    from orderlint.report.unchecked_files import Unread

RULES = "https://orderlint.example/fhir/rules"
"""The code system whose codes are the ids of the rules: a name, under a reserved domain."""

SEVERITY = {Level.DO_NOT_START: "error", Level.CLARIFY: "warning", Level.NOTE: "information"}
"""By level, of http://hl7.org/fhir/issue-severity."""
_OF_VERDICT = {
    **{Verdict(level.value): severity for level, severity in SEVERITY.items()},
    Verdict.INCOMPLETE: "warning",
    Verdict.CLEAR: "information",
}

# Of http://hl7.org/fhir/issue-type, by how a rule is found; of any other a condition is broken.
_TYPES = {"schema": "structure", "reading": "value", "units": "value"}
_BROKEN, _MISSING, _OPEN = "business-rule", "required", "processing"
_REFUSED, _FAULT, _TOLD = "invalid", "exception", "informational"


def render(report: CiReport) -> str:
    """One resource on all files, ending in a line feed; the same input, the same text.

    What was not checked is an issue as well, and so is the verdict on each file, before its
    results: the list is never empty.
    """
    issues = [issue for checked in report.checked for issue in _of_document(checked, report.rules)]
    issues += map(_unread, report.unread)
    issues.append(_issue("information", _TOLD, CAUTION))
    outcome: Member = {"resourceType": "OperationOutcome", "issue": [*issues]}
    return format_json(outcome)


def _of_document(checked: CheckedDocument, rules: Mapping[str, Rule]) -> Iterator[Member]:
    # INVARIANT: the first of `basis` is the verdict.
    for text in checked.warnings:
        yield _issue("information", _TOLD, text, (checked.file,))
    for text in checked.basis[:1]:
        yield _issue(_OF_VERDICT[checked.verdict], _TOLD, text, (checked.file,))
    for result in checked.results:
        yield _result(result, rules)
    for text in checked.basis[1:]:
        yield _issue("information", _TOLD, text, (checked.file,))


def _result(result: CiResult, rules: Mapping[str, Rule]) -> Member:
    finding = result.finding
    severity, words = SEVERITY[finding.level], finding_and_question(finding)
    if result.suppressed:
        severity, words = "information", f"{suppression_words(result.suppressed)} {words}"
    code = _OPEN if result.is_open else _type(finding.family, rules[finding.about])
    diagnostics = (finding_heading(finding), *details(finding))
    return _issue(severity, code, words, diagnostics, result)


def _type(family: str, rule: Rule) -> str:
    return _MISSING if family == MISSING_FAMILY else _TYPES.get(rule.found_by, _BROKEN)


def _unread(item: Unread) -> Member:
    """A file that was not checked: nothing further could be done with it."""
    code = _FAULT if item.is_fault else _REFUSED
    return _issue("fatal", code, item.reason, (str(item.place or item.file),))


def _issue(
    severity: str,
    code: str,
    words: str,
    diagnostics: Iterable[str] = (),
    result: CiResult | None = None,
) -> Member:
    """One issue, of a result if there is one, without what is empty, as FHIR asks of elements."""
    coding: Member = [{"system": RULES, "code": result.finding.about}] if result else []
    return _filled(
        {
            "severity": severity,
            "code": code,
            "details": _filled({"coding": coding, "text": safe(words)}),
            "diagnostics": "\n".join(map(safe, diagnostics)),
            "expression": [*_elements(result)] if result else [],
        }
    )


def _elements(result: CiResult) -> Iterator[str]:
    """The FHIRPath of each element that a result is about, the leading one first."""
    finding = result.finding
    places = [finding.place, *(mention.place for mention in finding.also if mention.place)]
    yield from dict.fromkeys(safe(place.element) for place in places if place.element)


def _filled(members: Mapping[str, Member]) -> dict[str, Member]:
    return {name: member for name, member in members.items() if member}
