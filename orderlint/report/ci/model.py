"""The model of all reports in this folder: documents and their results.

No format-specific strings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.finding import Finding, Level, NamedSetting, Suppressed, Unchecked, Verdict
from orderlint.report.ci.baseline import (
    finding_key,
    fingerprints,
    knows,
    shared_ids,
    unchecked_key,
)
from orderlint.report.order import words as order_words
from orderlint.report.order.checked import checked_words
from orderlint.report.order.segment_words import list_missing
from orderlint.report.visible_text import safe
from orderlint.report.words import ALREADY_RUNNING
from orderlint.rulebook.citation import cited
from orderlint.rulebook.words_check import PLACEHOLDER
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Iterable, Iterator, Mapping

    from orderlint.assessment import Assessment
    from orderlint.report.ci.baseline import Baseline
    from orderlint.report.unchecked_files import Unread
    from orderlint.rulebook.rule import Rule
    from orderlint.verification import Verified


class CiResult(NamedTuple):
    """One result of a document: a finding, or a rule that could not be checked.

    `is_open` marks a rule that could not be checked; its `finding` names the missing setting first.
    `suppressed` is set if the policy suppresses it. `known` is true if the baseline has it; None
    if there is no baseline.
    """

    finding: Finding
    fingerprint: str
    is_open: bool = False
    suppressed: Suppressed | None = None
    known: bool | None = None


class CheckedDocument(NamedTuple):
    """A document that was checked.

    `warnings` are shown before its results, `basis` after them: the verdict first, what was checked
    and by what, and the rules that were not asked. `id` is the order set's own, '' if it has none.
    """

    file: str
    kind: str
    verdict: Verdict
    results: tuple[CiResult, ...]
    warnings: tuple[str, ...]
    basis: tuple[str, ...]
    id: str = ""


class CiReport(NamedTuple):
    """A whole run: documents in the order given, and the rules that its results can name."""

    checked: tuple[CheckedDocument, ...]
    unread: tuple[Unread, ...]
    rules: Mapping[str, Rule]


_NOT_IN_AN_ORDER = {"set", "proof", "readback", "compare", "check", "draft", "fhir"}
"""How a rule can be found that is not asked of any order, but of a draft or a resource alone."""


def of_orders(
    verified: Iterable[Verified], unread: tuple[Unread, ...], rules: Mapping[str, Rule], at: int
) -> CiReport:
    """What `verify` says of some orders.

    `rules` are the rulebook's; `at` is the instant of checking in milliseconds since 1970 UTC.
    """
    checked = tuple(of_order(item, rules, at) for item in verified)
    return report_on(checked, unread, rules, _NOT_IN_AN_ORDER)


def report_on(
    checked: tuple[CheckedDocument, ...],
    unread: tuple[Unread, ...],
    rules: Mapping[str, Rule],
    others: Container[str],
) -> CiReport:
    """A whole run. Of the rules that are found in the ways `others`, it has only those it names."""
    named = {result.finding.about for each in checked for result in each.results}
    asked = {id_: r for id_, r in rules.items() if r.found_by not in others or id_ in named}
    return CiReport(checked, unread, asked)


def fails_run(result: CiResult, fail_at: Level) -> bool:
    """True if a result makes the exit status 1: at `fail_at` or above, not suppressed or known."""
    is_heavy = result.finding.level.weight >= fail_at.weight
    return is_heavy and result.suppressed is None and result.known is not True


def mark_known(report: CiReport, baseline: Baseline) -> CiReport:
    """The same report with each result marked as known or new; none is removed."""
    shared = shared_ids(report)
    marked = (_marked(item, baseline, item.id not in shared) for item in report.checked)
    return report._replace(checked=tuple(marked))


def _marked(checked: CheckedDocument, baseline: Baseline, has_own_id: bool) -> CheckedDocument:
    name = safe(checked.id) if has_own_id else ""
    accepted = baseline.accepted(name, safe(checked.file))
    results = (
        result._replace(known=knows(accepted, result.fingerprint)) for result in checked.results
    )
    return checked._replace(results=tuple(results))


def of_order(verified: Verified, rules: Mapping[str, Rule], at: int) -> CheckedDocument:
    """What `verify` says of one order; `at` is in milliseconds since 1970 UTC."""
    return CheckedDocument(
        verified.file,
        "order",
        verified.assessment.verdict,
        numbered_results(verified.assessment, lambda item: _open(item, rules[item.rule], verified)),
        (ALREADY_RUNNING,) if order_words.may_be_running(verified) else (),
        tuple(_basis(verified, at)),
    )


def numbered_results(
    assessment: Assessment, as_finding: Callable[[Unchecked], Finding]
) -> tuple[CiResult, ...]:
    """The results of one document with fingerprints; `as_finding` is for an unchecked rule."""
    keyed = [
        *((finding_key(finding), CiResult(finding, "")) for finding in assessment.findings),
        *(
            (unchecked_key(item), CiResult(as_finding(item), "", is_open=True))
            for item in assessment.unchecked
        ),
        *(
            (finding_key(item.finding), CiResult(item.finding, "", suppressed=item))
            for item in assessment.suppressed
        ),
    ]
    prints = fingerprints((key, result.finding.level) for key, result in keyed)
    return tuple(
        result._replace(fingerprint=found) for (_, result), found in zip(keyed, prints, strict=True)
    )


def _open(unchecked: Unchecked, rule: Rule, verified: Verified) -> Finding:
    lack = f"for lack of {list_missing(unchecked.missing, verified.order.leaves)}"
    lead, *others = [_mention(path, verified) for path in unchecked.missing] or [_WHOLE]
    return unchecked_finding(
        unchecked,
        rule,
        lead._replace(place=lead.place or verified.order.place_of(lead.path)),
        f"It could not be checked{f'. {unchecked.why}' if unchecked.why else f', {lack}'}.",
        rule.ask_whom,
    )._replace(also=tuple(others))


_WHOLE = NamedSetting("", "", "", None)
"""The order as a whole, where no setting is missing."""


def unchecked_finding(
    unchecked: Unchecked, rule: Rule, lead: NamedSetting, says: str, ask_whom: str
) -> Finding:
    """A rule that could not be checked, in the form of a finding on the setting `lead`."""
    assert lead.place is not None  # INVARIANT: the caller gives the place of the setting
    return Finding(
        rule=rule.id,
        family=rule.family,
        level=unchecked.level,
        path=lead.path,
        name=lead.name,
        says=says,
        written=lead.written,
        expected="",
        why=unfilled(rule.why),
        ask="",
        ask_whom=ask_whom,
        source=cited(rule.sources),
        place=lead.place,
    )


def unfilled(words: str) -> str:
    """A rule's words without an order: each placeholder becomes an ellipsis."""
    return PLACEHOLDER.sub("…", words)


def _mention(path: str, verified: Verified) -> NamedSetting:
    leaf = verified.order.leaves[path]
    written = quote(leaf.text) if leaf.given else ""
    place = leaf.place or verified.order.place_of(path)
    return NamedSetting(path, field_table().display_name(path), written, place)


def _basis(verified: Verified, at: int) -> Iterator[str]:
    label, sentence = order_words.verdict_words(verified)
    yield f"Verdict: {label}. {sentence}"
    yield from order_words.not_checked_words(verified.not_checked)
    yield f"Checked: {checked_words(verified, at)}"
    for words in order_words.inactive_words(verified.assessment.inactive):
        yield f"Not asked: {words}"


def finding_and_question(finding: Finding) -> str:
    """What is found, then what to ask; a tool with little space shows the first sentence."""
    ask = f" Ask the {finding.ask_whom}: {finding.ask}" if finding.ask else ""
    return f"{finding.says}{ask}"


def suppression_words(told: Suppressed) -> str:
    """Say that the policy suppresses a finding: until when, why, by whom, and where."""
    return (
        f"Suppressed by the policy until {told.until}: {told.reason.rstrip('.')}. "
        f"Approved by: {told.approved_by} ({told.place})."
    )
