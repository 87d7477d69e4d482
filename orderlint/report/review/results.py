"""Makes the CI model of a reviewed order set.

No format-specific strings.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.finding import Mention
from orderlint.report.ci import results as ci
from orderlint.report.order.words import as_far_as_read, not_checked_words
from orderlint.report.review import earlier, words
from orderlint.report.review.earlier import EarlierSets
from orderlint.report.review.narrowings import asked
from orderlint.report.words import FOR_AUTHOR, instant_words, name_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.finding import Finding, Unchecked
    from orderlint.report.ci.baseline import Baseline
    from orderlint.report.unchecked_files import Unread
    from orderlint.set_review import Reviewed

_ELSEWHERE = {"check", "readback", "compare", "fhir"}
"""How a rule can be found that a review never asks."""


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
        return earlier.mark_known(report, reviewed, known)
    return ci.mark_known(report, known) if known else report


def of_set(reviewed: Reviewed, at: int) -> ci.CheckedDocument:
    """What `review` says of one order set; `at` is in milliseconds since 1970 UTC."""
    verdict = reviewed.assessment.verdict
    asking = replace(reviewed.assessment, findings=asked(reviewed))
    return ci.CheckedDocument(
        reviewed.file,
        "order-set",
        verdict,
        ci.numbered_results(asking, lambda item: _open(item, reviewed)),
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
        Mention(lead, name_of(lead), "", reviewed.order_set.place_of(lead)),
        f"An order from the set may leave it unchecked, for lack of {names}.",
        "author",
    )
