"""Makes the CI model of a comparison: what is newly wrong in the later of two documents.

No format-specific strings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import BEFORE, field_table
from orderlint.finding import Mention
from orderlint.report.ci.results import (
    CheckedDocument,
    CiReport,
    CiResult,
    numbered_results,
    of_order,
    unchecked_finding,
)
from orderlint.report.compare import set_words, words
from orderlint.report.order.table import list_missing
from orderlint.report.order.words import as_far_as_read
from orderlint.report.verdicts import FOR_CHANGE
from orderlint.report.words import instant_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets
    from orderlint.finding import Finding, Unchecked
    from orderlint.rulebook.rule import Rule

_ELSEWHERE = {"check", "readback", "fhir"}
"""How a rule can be found that a comparison never asks, or of resources of FHIR alone."""


def of_sets(found: ComparedSets, at: int) -> CiReport:
    """What new orders break; `at` is in milliseconds since 1970 UTC."""
    assessment = found.assessment
    left_open = [_open_on_set(item, found) for item in assessment.unchecked]
    results = numbered_results(
        assessment.findings, assessment.unchecked, left_open, assessment.suppressed
    )
    label = (
        f"{FOR_CHANGE[assessment.verdict]}{as_far_as_read(assessment.verdict, found.not_checked)}"
    )
    relation, sentence = set_words.relation_words(found)
    basis = (
        f"Verdict on what is new: {label}. The later set is {relation.lower()}: {sentence}",
        set_words.newly_words(found),
        *set_words.headlines(found),
        *filter(None, [set_words.broken_before_words(found)]),
        f"Compared: {set_words.checked_words(found, f', as of {instant_words(at)}')}",
        set_words.COVERS,
    )
    checked = CheckedDocument(
        found.after.file,
        "order-set",
        assessment.verdict,
        results,
        (),
        basis,
        found.after.head.get("id", ""),
    )
    return _report(checked, found.rulebook.rules)


def _open_on_set(unchecked: Unchecked, found: ComparedSets) -> Finding:
    left = next(item for item in found.comparison.broken if item.rule == unchecked.rule)
    lead = unchecked.missing[0]
    missing = list_missing(unchecked.missing, left.example.leaves)
    return unchecked_finding(
        unchecked,
        found.rulebook.rules[unchecked.rule],
        Mention(lead, field_table().display_name(lead), "", found.after.place_of(lead)),
        f"A new order may leave it unchecked, for lack of {missing}.",
        "author",
    )


def of_orders(found: ComparedOrders, at: int) -> CiReport:
    """What is wrong in the change, then what is in the later order by itself.

    `at` is in milliseconds since 1970 UTC.
    """
    assessment, rules = found.assessment, found.rulebook.rules
    left_open = [_open_in_change(item, rules[item.rule], found) for item in assessment.unchecked]
    change = numbered_results(
        assessment.findings, assessment.unchecked, left_open, assessment.suppressed
    )
    later = of_order(found.after, rules, at)
    basis = (*words.change_words(found), *later.basis)
    results = (*change, *_apart(later.results, change))
    return _report(later._replace(results=results, basis=basis, verdict=found.verdict), rules)


def _apart(results: tuple[CiResult, ...], others: tuple[CiResult, ...]) -> Iterator[CiResult]:
    """The results, without those that are among the others."""
    told = {item.fingerprint for item in others}
    return (item for item in results if item.fingerprint not in told)


def _open_in_change(unchecked: Unchecked, rule: Rule, found: ComparedOrders) -> Finding:
    lead = unchecked.missing[0]
    plain = lead.removeprefix(BEFORE)
    side = found.before if lead.startswith(BEFORE) else found.after
    names = ", ".join(field_table().display_name(path) for path in unchecked.missing)
    return unchecked_finding(
        unchecked,
        rule,
        Mention(lead, field_table().display_name(lead), "", side.order.place_of(plain)),
        f"It could not be checked of the change, for lack of {names}.",
        rule.ask_whom,
    )


def _report(checked: CheckedDocument, rules: Mapping[str, Rule]) -> CiReport:
    named = {result.finding.about for result in checked.results}
    asked = {
        rule.id: rule
        for rule in rules.values()
        if rule.found_by not in _ELSEWHERE or rule.id in named
    }
    return CiReport((checked,), (), asked)
