"""Writes a report as JUnit XML: a suite for each file, a case for each result.

There is no published standard of it: the elements are common practice, no published source. A
result, suppressed or not, is never a case that passed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple
from xml.etree import ElementTree

from orderlint.report.ci.model import fails_run, finding_and_question, suppression_words
from orderlint.report.order.words import details
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.finding import Level
    from orderlint.report.ci.model import CiReport, CiResult
    from orderlint.report.unchecked_files import Unread

NOTHING = "nothing found"
"""The one case of a file in which there is nothing; it passes."""
READING = "the file is read"
"""The one case of a file that was not checked; it is an error."""


class _Case(NamedTuple):
    """One case. `state` is the name of the element that says it did not pass; '' where it did."""

    name: str
    state: str = ""
    kind: str = ""
    message: str = ""
    body: tuple[str, ...] = ()


def render(report: CiReport, fail_at: Level) -> str:
    """The whole report, ending in a line feed; the same input, the same text.

    Failures and errors are just what makes the exit status other than 0. A finding is a failure; a
    rule that could not be checked an error, as a test that could not be carried out: it found
    nothing, and did not pass. Both are skipped, with the reason, where they do not count: below
    `fail_at`, suppressed by the policy or known from the baseline. A file not checked is an error.
    """
    suites = [
        _suite(
            item.file,
            [*_cases(item.results, fail_at)] or [_Case(NOTHING)],
            (*item.warnings, *item.basis, CAUTION),
        )
        for item in report.checked
    ]
    suites += [_suite(item.file, [_unread(item)], (CAUTION,)) for item in report.unread]
    top = ElementTree.Element("testsuites", {"name": "orderlint"})
    for count in ("tests", "failures", "errors"):
        top.set(count, str(sum(int(suite.attrib[count]) for suite in suites)))
    top.extend(suites)
    ElementTree.indent(top)
    text = ElementTree.tostring(top, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _suite(file: str, cases: list[_Case], said: Iterable[str]) -> ElementTree.Element:
    states = [case.state for case in cases]
    suite = ElementTree.Element("testsuite", {"name": safe(file), "tests": str(len(cases))})
    for count, state in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        suite.set(count, str(states.count(state)))
    for case in cases:
        element = ElementTree.SubElement(
            suite, "testcase", {"name": safe(case.name), "classname": safe(file)}
        )
        if case.state:
            told = {"type": case.kind, "message": safe(case.message)}
            ElementTree.SubElement(element, case.state, told).text = _lines(case.body)
    ElementTree.SubElement(suite, "system-out").text = _lines(said)
    return suite


def _lines(texts: Iterable[str]) -> str:
    # INVARIANT: what is safe has none of the characters that XML 1.0 (2.2) forbids.
    return "\n".join(map(safe, texts))


def _cases(results: Iterable[CiResult], fail_at: Level) -> Iterator[_Case]:
    """A case for each result, named by its rule; a second one of a rule has a number."""
    names: dict[str, int] = {}
    for result in results:
        rule = result.finding.about
        names[rule] = names.get(rule, 0) + 1
        name = rule if names[rule] == 1 else f"{rule} ({names[rule]})"
        yield _case(name, result, fail_at)


def _case(name: str, result: CiResult, fail_at: Level) -> _Case:
    finding = result.finding
    words, body = finding_and_question(finding), (finding.says, *details(finding))
    if fails_run(result, fail_at):
        state = "error" if result.is_open else "failure"
        return _Case(name, state, finding.level.value, words, body)
    return _Case(name, "skipped", finding.level.value, f"{_because(result, fail_at)} {words}", body)


def _because(result: CiResult, fail_at: Level) -> str:
    """Why a result does not count."""
    if result.suppressed:
        return suppression_words(result.suppressed)
    if result.known:
        return "Known already."
    return f"Below {fail_at.value}, the level asked for."


def _unread(item: Unread) -> _Case:
    where = f"Place: {item.place or item.file}"
    kind = "fault of the tool" if item.is_fault else "refused"
    words = item.reason
    return _Case(READING, "error", kind, words, (words, where))
