"""Makes the CI model of a comparison: what is newly wrong in the later of two documents.

No format-specific strings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import BEFORE, field_table
from orderlint.finding import Finding, NamedSetting, Unchecked
from orderlint.report.ci import model as ci
from orderlint.report.compare import set_words, words
from orderlint.report.order.segment_words import list_missing
from orderlint.report.order.words import as_far_as_read
from orderlint.report.words import FOR_CHANGE, instant_words

if TYPE_CHECKING:
    from orderlint.comparison.orders import ComparedOrders
    from orderlint.comparison.sets import ComparedSets

_ELSEWHERE = {"check", "readback", "fhir"}
"""How a rule can be found that a comparison never asks, or of resources of FHIR alone."""


def of_sets(found: ComparedSets, at: int) -> ci.CiReport:
    """What new orders break; `at` is in milliseconds since 1970 UTC."""
    assessment = found.assessment
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
    checked = ci.CheckedDocument(
        found.after.file,
        "order-set",
        assessment.verdict,
        ci.numbered_results(assessment, lambda item: _open_on_set(item, found)),
        (),
        basis,
        found.after.head.get("id", ""),
    )
    return ci.report_on((checked,), (), found.rulebook.rules, _ELSEWHERE)


def _open_on_set(unchecked: Unchecked, found: ComparedSets) -> Finding:
    left = next(item for item in found.comparison.broken if item.rule == unchecked.rule)
    lead = unchecked.missing[0]
    missing = list_missing(unchecked.missing, left.example.leaves)
    return ci.unchecked_finding(
        unchecked,
        found.rulebook.rules[unchecked.rule],
        NamedSetting(lead, field_table().display_name(lead), "", found.after.place_of(lead)),
        f"A new order may leave it unchecked, for lack of {missing}.",
        "author",
    )


def of_orders(found: ComparedOrders, at: int) -> ci.CiReport:
    """What is wrong in the change, then what is in the later order by itself.

    `at` is in milliseconds since 1970 UTC.
    """
    rules = found.rulebook.rules
    change = ci.numbered_results(found.assessment, lambda item: _open_in_change(item, found))
    later = ci.of_order(found.after, rules, at)
    told = {item.fingerprint for item in change}
    apart = (item for item in later.results if item.fingerprint not in told)
    basis = (*words.change_words(found), *later.basis)
    checked = later._replace(results=(*change, *apart), basis=basis, verdict=found.verdict)
    return ci.report_on((checked,), (), rules, _ELSEWHERE)


def _open_in_change(unchecked: Unchecked, found: ComparedOrders) -> Finding:
    lead, rule = unchecked.missing[0], found.rulebook.rules[unchecked.rule]
    plain = lead.removeprefix(BEFORE)
    side = found.before if lead.startswith(BEFORE) else found.after
    names = ", ".join(field_table().display_name(path) for path in unchecked.missing)
    return ci.unchecked_finding(
        unchecked,
        rule,
        NamedSetting(lead, field_table().display_name(lead), "", side.order.place_of(plain)),
        f"It could not be checked of the change, for lack of {names}.",
        rule.ask_whom,
    )
