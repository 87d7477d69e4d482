"""Two order sets in; whether the later is stricter or looser, and what its new orders break, out.

Joins options, proof and the verdict on an order. Never prints.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.assessment import apart, speaking_for
from orderlint.comparison.option_changes import offers_of
from orderlint.finding import Suppressed, Unchecked, verdict_of
from orderlint.order import Order
from orderlint.order_set.presets import presets
from orderlint.proof import Result, compare
from orderlint.set_findings import about, not_proved
from orderlint.verification import verify_order, worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.option_changes import Offer
    from orderlint.finding import Finding, Verdict
    from orderlint.order_set.model import OrderSet
    from orderlint.proof import Comparison, NewlyBroken
    from orderlint.rulebook.rule import Rulebook


@dataclass(frozen=True, slots=True)
class Newly:
    """A rule that a new order breaks, and what `verify` finds on that order.

    `found` is the finding of the rule itself or of one that covers it, None where the policy
    suppresses it, which `suppressed` then says. `said` is what is said of the set for it; None
    where it is said under the rule that covers it.
    """

    broken: NewlyBroken
    found: Finding | None
    suppressed: Suppressed | None
    said: Finding | None


@dataclass(frozen=True, slots=True)
class ComparedSets:
    """All that is said of two order sets beside each other, under one rulebook.

    `offers` are the settings not offered alike. `newly` has the rules that new orders break;
    `unchecked` those that new orders may leave unchecked, but for `left_open`, those that earlier
    orders left so for the same lack. `rules` counts the rules asked; those left to signing are not.
    """

    before: OrderSet
    after: OrderSet
    comparison: Comparison
    offers: tuple[Offer, ...]
    newly: tuple[Newly, ...]
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    left_open: tuple[str, ...]
    suppressed: tuple[Suppressed, ...]
    verdict: Verdict
    rules: int
    rulebook: Rulebook


def compare_sets(before: OrderSet, after: OrderSet, at: int, rulebook: Rulebook) -> ComparedSets:
    """Compare two order sets as of `at`, milliseconds since 1970 UTC.

    `rulebook` has the rules on order sets, as `load("order-set")` gives it.
    """
    found = _compared(before, after, at, rulebook)
    newly = tuple(_newly(item, after, at, rulebook) for item in found.broken if not item.missing)
    left = [item for item in found.broken if item.missing]
    unchecked = tuple(
        Unchecked(item.rule, rulebook.rules[item.rule].level, item.missing)
        for item in left
        if not _was_open(item)
    )
    findings = tuple(
        sorted(
            [
                *(item.said for item in newly if item.said),
                *_unsettled(before, after, found, rulebook),
            ],
            key=lambda finding: -finding.level.weight,
        )
    )
    suppressed = tuple(item.suppressed for item in newly if item.suppressed)
    return ComparedSets(
        before,
        after,
        found,
        tuple(offers_of(before, after)),
        newly,
        findings,
        unchecked,
        tuple(item.rule for item in left if _was_open(item)),
        suppressed,
        verdict_of(findings, unchecked, suppressed),
        sum(1 for rule in rulebook.rules.values() if rule.instances) - len(found.at_signing),
        rulebook,
    )


def _compared(before: OrderSet, after: OrderSet, at: int, book: Rulebook) -> Comparison:
    """How the orders differ; of a rule that is suppressed at some settings, at the others first."""
    found = compare(before, after, book)
    asked = {name: apart(rule, book, at)[0] for name, rule in book.rules.items()}
    partly = {n: rule for n, rule in asked.items() if rule.instances and rule is not book.rules[n]}
    if not partly or not found.broken:
        return found
    again = compare(before, after, book._replace(rules=partly))
    shown = {item.rule for item in again.broken}
    kept = [item for item in found.broken if item.rule not in shown]
    ranks = {name: rank for rank, name in enumerate(book.rules)}
    broken = sorted([*kept, *again.broken], key=lambda item: ranks[item.rule])
    return replace(found, broken=tuple(broken), unsettled={**found.unsettled, **again.unsettled})


def _was_open(item: NewlyBroken) -> bool:
    """Whether an earlier order left a rule unchecked for lack of the same settings.

    INVARIANT: a rule that was broken, or of which nothing was known, was not left open.
    """
    was = item.before
    return was.result is Result.UNDETERMINED and {*item.missing} <= {*was.missing}


def _newly(item: NewlyBroken, after: OrderSet, at: int, book: Rulebook) -> Newly:
    """A new order that breaks a rule, with what `verify` says of it."""
    rule, signed = book.rules[item.rule], presets(after).order
    order = Order(after.file, item.example.leaves, (), after.places)
    verified = verify_order(order, at, book)
    heard = speaking_for(rule.id, item.paths, verified.findings, verified.suppressed, book)
    found, hidden = (None, heard) if isinstance(heard, Suppressed) else (heard, None)
    is_own = found is not None and found.rule == rule.id
    said = about(found, "reachable-order-breaks-rule", signed, book) if found and is_own else None
    return Newly(item, found, hidden, said)


def _unsettled(
    before: OrderSet, after: OrderSet, found: Comparison, book: Rulebook
) -> Iterator[Finding]:
    """What leaves the comparison open: faults of either set, or a proof that was given up."""
    for order_set in (before, after):
        order = presets(order_set).order
        for finding in worded(order_set.unsettled, order, book):
            yield finding._replace(ask_whom="author")
    reasons = dict(found.unsettled)
    if found.relation == "open":
        reasons["any rule anew"] = (
            f"which orders are new or gone is not known ({'; '.join(found.open)})"
        )
    yield from not_proved(reasons, presets(after).order, book)
