"""Makes the CI model of a reviewed order set, and marks what the review of an earlier set had too.

By rules, not by the very order that breaks one: where an option is taken out, another order is the
nearest, and nothing is new. Never hides a finding, and no format-specific strings.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Finding, Level, NamedSetting, Unchecked
from orderlint.report.ci import model as ci
from orderlint.report.order.json import found_member
from orderlint.report.order.words import as_far_as_read, not_checked_words
from orderlint.report.review import words
from orderlint.report.review.narrowings import asked
from orderlint.report.words import FOR_AUTHOR, instant_words, name_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.report.ci.baseline import Baseline
    from orderlint.report.unchecked_files import Unread
    from orderlint.set_review import Reviewed

_ELSEWHERE = {"check", "readback", "compare", "fhir"}
"""How a rule can be found that a review never asks."""


Key = tuple[str, ...]
_PRESET, _REACHABLE = "preset", "reachable"


class EarlierReview(NamedTuple):
    """What was told of an earlier set.

    `told` has the heaviest level of each finding by its key, `left_open` the settings
    for lack of which some order left a rule unchecked.
    """

    told: Mapping[Key, Level]
    left_open: Mapping[str, frozenset[str]]


class EarlierSets(NamedTuple):
    """The earlier reviews by the file of the set as it is now, and what is to be said of them."""

    reviews: Mapping[str, EarlierReview]
    notes: tuple[str, ...] = ()


def of_sets(
    reviewed: Iterable[Reviewed],
    unread: tuple[Unread, ...],
    at: int,
    known: Baseline | EarlierSets | None,
) -> ci.CiReport:
    """What `review` says of some order sets, each result marked by what is known, if anything is.

    `at` is in milliseconds since 1970 UTC.
    """
    reviewed = list(reviewed)
    rules = reviewed[-1].rulebook.rules if reviewed else {}
    report = ci.report_on(tuple(of_set(item, at) for item in reviewed), unread, rules, _ELSEWHERE)
    if isinstance(known, EarlierSets):
        return _mark_known(report, reviewed, known)
    return ci.mark_known(report, known) if known else report


def of_set(reviewed: Reviewed, at: int) -> ci.CheckedDocument:
    """What `review` says of one order set; `at` is in milliseconds since 1970 UTC."""
    verdict = reviewed.assessment.verdict
    with_questions = replace(reviewed.assessment, findings=asked(reviewed))
    return ci.CheckedDocument(
        reviewed.file,
        "order-set",
        verdict,
        ci.numbered_results(with_questions, lambda item: _open(item, reviewed)),
        (),
        (
            f"Verdict: {FOR_AUTHOR[verdict]}{as_far_as_read(verdict, reviewed.not_checked)}.",
            *not_checked_words(reviewed.not_checked),
            f"Checked: {words.checked_words(reviewed, f', as of {instant_words(at)}')}",
            words.summary(reviewed),
            words.orders_words(reviewed),
            words.COVERS,
        ),
        reviewed.order_set.head.get("id", ""),
    )


def _open(unchecked: Unchecked, reviewed: Reviewed) -> Finding:
    """A rule that some order may leave unchecked, in the form of a finding."""
    lead = unchecked.missing[0]
    names = ", ".join(name_of(path) for path in unchecked.missing)
    return ci.unchecked_finding(
        unchecked,
        reviewed.rulebook.rules[unchecked.rule],
        NamedSetting(lead, name_of(lead), "", reviewed.order_set.place_of(lead)),
        f"An order from the set may leave it unchecked, for lack of {names}.",
        "author",
    )


def earlier_review(reviewed: Reviewed) -> EarlierReview:
    """What is known of a set after its review."""
    told: dict[Key, Level] = {}
    for key, level in _told(reviewed):
        told[key] = max(level, told.get(key, level), key=lambda each: each.weight)
    unchecked = reviewed.assessment.unchecked
    return EarlierReview(told, {item.rule: frozenset(item.missing) for item in unchecked})


def _told(reviewed: Reviewed) -> Iterator[tuple[Key, Level]]:
    for finding in reviewed.assessment.findings:
        if not finding.breaks:
            yield (finding.rule, finding.path), finding.level
    # A rule that a heavier one covers has no finding of its own, and is broken all the same.
    for item in reviewed.broken:
        yield (_REACHABLE, item.rule.id), reviewed.rulebook.rules[item.rule.id].level
    for finding in reviewed.presets.assessment.findings:
        yield (_PRESET, finding.rule), finding.level
        yield (_REACHABLE, finding.rule), finding.level


def _mark_known(
    report: ci.CiReport, reviewed: Sequence[Reviewed], earlier: EarlierSets
) -> ci.CiReport:
    """The same report with each result marked as known or new; none is removed."""
    pairs = zip(report.checked, reviewed, strict=True)
    return report._replace(checked=tuple(_marked(each, of, earlier) for each, of in pairs))


def _marked(
    checked: ci.CheckedDocument, reviewed: Reviewed, earlier: EarlierSets
) -> ci.CheckedDocument:
    before = earlier.reviews.get(checked.file, EarlierReview({}, {}))
    missing = {item.rule: item.missing for item in reviewed.assessment.unchecked}
    results = tuple(
        result._replace(known=_is_known(result, missing, before)) for result in checked.results
    )
    return checked._replace(results=results, warnings=(*checked.warnings, *earlier.notes))


def _is_known(
    result: ci.CiResult, missing: Mapping[str, Sequence[str]], before: EarlierReview
) -> bool:
    finding = result.finding
    if result.is_open:
        lacking = {*missing[finding.rule]} <= before.left_open.get(finding.rule, frozenset())
        return lacking or _was_told((_REACHABLE, finding.rule), finding, before)
    if finding.breaks:
        found = str(found_member(finding)["found"])
        return _was_told((found, finding.breaks), finding, before)
    return _was_told((finding.rule, finding.path), finding, before)


def _was_told(key: Key, finding: Finding, before: EarlierReview) -> bool:
    """Whether it was told at the same level or a heavier one."""
    level = before.told.get(key)
    return level is not None and level.weight >= finding.level.weight
