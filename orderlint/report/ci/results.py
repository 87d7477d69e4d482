"""What the formats for CI are written from: documents with results, files not read, the rules.

The one shape for every verb whose report goes to a machine. Never a format's own words or signs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.finding import Finding, Mention
from orderlint.report.ci.baseline import finding_key, fingerprints, unchecked_key
from orderlint.report.order.table import not_had
from orderlint.report.order.words import (
    checked_words,
    inactive_words,
    may_be_running,
    verdict_words,
)
from orderlint.report.words import ALREADY_RUNNING
from orderlint.rulebook.proofread import PLACEHOLDER
from orderlint.rulebook.source import cited
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Level, Place, Refused, Suppressed, Unchecked, Verdict
    from orderlint.report.ci.baseline import Baseline
    from orderlint.rulebook.rule import Rule
    from orderlint.verification import Verified


class Result(NamedTuple):
    """One thing said of a document.

    `is_open` marks a rule that could not be checked, whose `finding` leads with what it lacks.
    `suppressed` is there where the policy suppresses it. `known` says whether it stood in the
    baseline; None where there is none.
    """

    finding: Finding
    fingerprint: str
    is_open: bool = False
    suppressed: Suppressed | None = None
    known: bool | None = None


class Checked(NamedTuple):
    """A document that was checked.

    `warnings` are to be read before its results, `basis` after them: the verdict, what was checked
    and by what, and the rules that were not asked.
    """

    file: str
    kind: str
    verdict: Verdict
    results: tuple[Result, ...]
    warnings: tuple[str, ...]
    basis: tuple[str, ...]


class Unread(NamedTuple):
    """A file that was not checked: it was refused or, where `is_fault`, the tool failed on it."""

    file: str
    message: str
    place: Place | None = None
    also: Place | None = None
    is_fault: bool = False


class Report(NamedTuple):
    """All that a run says, documents in the order given, with the rules that it may speak of."""

    checked: tuple[Checked, ...]
    unread: tuple[Unread, ...]
    rules: Mapping[str, Rule]


_IN_AN_ORDER = {"condition", "reading", "schema", "units", "policy"}
"""How a rule can be found where an order is verified."""


def of_orders(
    verified: Iterable[Verified],
    refused: Iterable[tuple[str, Refused]],
    faults: Iterable[tuple[str, str]],
    rules: Mapping[str, Rule],
    at: int,
) -> Report:
    """What `verify` says of some orders.

    `refused` are file names with why each was refused, `faults` file names with the words for the
    tool's own failure there; `rules` are the rulebook's; `at` is the instant of checking in
    milliseconds since 1970 UTC.
    """
    checked = tuple(of_order(item, rules, at) for item in verified)
    asked = {rule.id: rule for rule in rules.values() if rule.found_by in _IN_AN_ORDER}
    return Report(checked, unread(refused, faults), asked)


def counts(result: Result, fail_at: Level) -> bool:
    """Whether a result makes the exit status 1: it is heavy, and neither suppressed nor known."""
    is_heavy = result.finding.level.weight >= fail_at.weight
    return is_heavy and result.suppressed is None and result.known is not True


def beside(checked: Checked, baseline: Baseline, shown_file: str) -> Checked:
    """The same document with each result marked as known or new; none is removed.

    `shown_file` is the document's name as a JSON report shows it.
    """
    marked = tuple(
        result._replace(known=baseline.knows(shown_file, result.fingerprint, result.finding.level))
        for result in checked.results
    )
    return checked._replace(results=marked)


def unread(
    refused: Iterable[tuple[str, Refused]], faults: Iterable[tuple[str, str]]
) -> tuple[Unread, ...]:
    """The files that were not checked: those refused, then those on which the tool failed."""
    not_read = [
        Unread(
            file,
            reason.message,
            None if isinstance(reason.place, str) else reason.place,
            reason.also,
        )
        for file, reason in refused
    ]
    return (*not_read, *(Unread(file, message, is_fault=True) for file, message in faults))


def of_order(verified: Verified, rules: Mapping[str, Rule], at: int) -> Checked:
    """What `verify` says of one order; `at` is in milliseconds since 1970 UTC."""
    left_open = [_open(item, rules[item.rule], verified) for item in verified.assessment.unchecked]
    return Checked(
        verified.file,
        "order",
        verified.assessment.verdict,
        results_of(
            verified.assessment.findings,
            verified.assessment.unchecked,
            left_open,
            verified.assessment.suppressed,
        ),
        (ALREADY_RUNNING,) if may_be_running(verified) else (),
        tuple(_basis(verified, at)),
    )


def results_of(
    findings: Iterable[Finding],
    unchecked: Iterable[Unchecked],
    left_open: Iterable[Finding],
    suppressed: Iterable[Suppressed],
) -> tuple[Result, ...]:
    """All that is said of one document, numbered. `left_open` are those unchecked, as findings."""
    keyed = [
        *((finding_key(finding), Result(finding, "")) for finding in findings),
        *(
            (unchecked_key(item), Result(finding, "", is_open=True))
            for item, finding in zip(unchecked, left_open, strict=True)
        ),
        *((finding_key(i.finding), Result(i.finding, "", suppressed=i)) for i in suppressed),
    ]
    prints = fingerprints(key for key, _ in keyed)
    return tuple(
        result._replace(fingerprint=found) for (_, result), found in zip(keyed, prints, strict=True)
    )


def _open(unchecked: Unchecked, rule: Rule, verified: Verified) -> Finding:
    """A rule that could not be checked, in the form of a finding."""
    leaves = verified.order.leaves
    lacking = ", ".join(not_had(path, leaves[path]) for path in unchecked.missing)
    lead, *others = (_mention(path, verified) for path in unchecked.missing)
    return Finding(
        rule=rule.id,
        family=rule.family,
        level=unchecked.level,
        path=lead.path,
        name=lead.name,
        says=f"It could not be checked, for lack of {lacking}.",
        written=lead.written,
        expected="",
        why=unfilled(rule.why),
        ask="",
        ask_whom=rule.ask_whom,
        source=cited(rule.sources),
        place=lead.place or verified.order.place_of(lead.path),
        also=tuple(others),
    )


def unfilled(words: str) -> str:
    """A rule's words where there is no order to fill their names from."""
    return PLACEHOLDER.sub("…", words)


def _mention(path: str, verified: Verified) -> Mention:
    leaf = verified.order.leaves[path]
    written = quote(leaf.text) if leaf.given else ""
    place = leaf.place or verified.order.place_of(path)
    return Mention(path, field_table().trade_name(path), written, place)


def _basis(verified: Verified, at: int) -> Iterator[str]:
    label, sentence = verdict_words(verified)
    yield f"Verdict: {label}. {sentence}"
    yield f"Checked: {checked_words(verified, at)}"
    for words in inactive_words(verified.assessment.inactive):
        yield f"Not asked: {words}"


def asking(finding: Finding) -> str:
    """What is found, and then what to ask: where space is short the first sentence is shown."""
    ask = f" Ask the {finding.ask_whom}: {finding.ask}" if finding.ask else ""
    return f"{finding.says}{ask}"


def suppression_words(told: Suppressed) -> str:
    """That the policy suppresses a finding: until when, why, by whom and where it says so."""
    return (
        f"Suppressed by the policy until {told.until}: {told.reason.rstrip('.')}. "
        f"Approved by: {told.approved_by} ({told.place})."
    )


def unread_words(item: Unread) -> str:
    """Why a file was not checked."""
    return f"{item.message} (the other is at {item.also})" if item.also else item.message
