"""Makes the CI model of a reviewed order set.

No format-specific strings.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.finding import Mention
from orderlint.report.ci.results import (
    CheckedDocument,
    mark_known,
    numbered_results,
    report_on,
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
    from orderlint.report.ci.results import CiReport
    from orderlint.report.unchecked_files import Unread
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
    reviewed = list(reviewed)
    rules = reviewed[-1].rulebook.rules if reviewed else {}
    report = report_on(tuple(of_set(item, at) for item in reviewed), unread, rules, _ELSEWHERE)
    if isinstance(known, EarlierSets):
        return earlier.mark_known(report, reviewed, known)
    return mark_known(report, known) if known else report


def of_set(reviewed: Reviewed, at: int) -> CheckedDocument:
    """What `review` says of one order set; `at` is in milliseconds since 1970 UTC."""
    verdict = reviewed.assessment.verdict
    asking = replace(reviewed.assessment, findings=asked(reviewed))
    return CheckedDocument(
        reviewed.file,
        "order-set",
        verdict,
        numbered_results(asking, lambda item: _open(item, reviewed)),
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
    names = ", ".join(words.name_of(path) for path in unchecked.missing)
    return unchecked_finding(
        unchecked,
        reviewed.rulebook.rules[unchecked.rule],
        Mention(lead, words.name_of(lead), "", reviewed.order_set.place_of(lead)),
        f"An order from the set may leave it unchecked, for lack of {names}.",
        "author",
    )
