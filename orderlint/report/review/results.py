"""Makes the CI model of a reviewed order set.

No format-specific strings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Mention
from orderlint.report.ci.results import (
    CheckedDocument,
    CiReport,
    mark_known,
    numbered_results,
    unchecked_finding,
)
from orderlint.report.order.words import as_far_as_read, not_checked_words
from orderlint.report.review import earlier, words
from orderlint.report.review.earlier import EarlierSets
from orderlint.report.review.narrowings import asked
from orderlint.report.verdicts import FOR_AUTHOR
from orderlint.report.words import instant_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.finding import Finding, Unchecked
    from orderlint.report.ci.baseline import Baseline
    from orderlint.report.unchecked_files import Unread
    from orderlint.rulebook.rule import Rule
    from orderlint.set_review import Reviewed

_ELSEWHERE = {"check", "readback", "compare", "fhir"}
"""How a rule can be found that a review never asks."""


def of_sets(
    reviewed: Iterable[Reviewed],
    unread: tuple[Unread, ...],
    at: int,
    known: Baseline | EarlierSets | None,
) -> CiReport:
    """What `review` says of some order sets, each result marked by what is known, if anything is.

    `at` is in milliseconds since 1970 UTC.
    """
    checked, rules = [], {}
    reviewed = list(reviewed)
    for item in reviewed:
        checked.append(of_set(item, at))
        found = item.rulebook.rules.values()
        rules = {rule.id: rule for rule in found if rule.found_by not in _ELSEWHERE}
    report = CiReport(tuple(checked), unread, rules)
    if isinstance(known, EarlierSets):
        return earlier.mark_known(report, reviewed, known)
    return mark_known(report, known) if known else report


def of_set(reviewed: Reviewed, at: int) -> CheckedDocument:
    """What `review` says of one order set; `at` is in milliseconds since 1970 UTC."""
    rules, verdict = reviewed.rulebook.rules, reviewed.assessment.verdict
    left_open = [_open(item, rules[item.rule], reviewed) for item in reviewed.assessment.unchecked]
    return CheckedDocument(
        reviewed.file,
        "order-set",
        reviewed.assessment.verdict,
        numbered_results(
            asked(reviewed),
            reviewed.assessment.unchecked,
            left_open,
            reviewed.assessment.suppressed,
        ),
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


def _open(unchecked: Unchecked, rule: Rule, reviewed: Reviewed) -> Finding:
    """A rule that some order may leave unchecked, in the form of a finding."""
    lead = unchecked.missing[0]
    names = ", ".join(words.name_of(path) for path in unchecked.missing)
    return unchecked_finding(
        unchecked,
        rule,
        Mention(lead, words.name_of(lead), "", reviewed.order_set.place_of(lead)),
        f"An order from the set may leave it unchecked, for lack of {names}.",
        "author",
    )
