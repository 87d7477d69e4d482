"""Two orders in; what the second changes, what that does, and what is found in the change out.

Joins settings, behaviour, the rules on changes and the verdict on each order. Never prints.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.assessment import (
    in_words,
    judge,
    not_asked,
    of_fault,
    shown,
    suppressed_of,
    without_suppressed,
)
from orderlint.behaviour_diff import stretches_of
from orderlint.comparison.findings import faults_of, unchecked_of
from orderlint.comparison.setting_changes import settings_of
from orderlint.finding import verdict_of
from orderlint.language.types import CHECKED_AT
from orderlint.order import SIGNED, Leaf, State, with_earlier
from orderlint.verification import verify_order

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.behaviour_diff import Stretch
    from orderlint.comparison.setting_changes import Setting
    from orderlint.finding import Finding, Inactive, Suppressed, Unchecked, Verdict
    from orderlint.order import Order
    from orderlint.rulebook.rule import Rule, Rulebook
    from orderlint.verification import Verified


@dataclass(frozen=True, slots=True)
class ComparedOrders:
    """All that is said of the change from one order to another.

    `settings` are those that differ, `signed` the facts of signing among them apart. `stretches`
    are the pressures at which the controller would act otherwise. `findings`, `unchecked`,
    `inactive` and `suppressed` are those of the change alone, and `rules` counts the rules asked of
    it; `before` and `after` are what each order is by itself. `verdict` is the heaviest of the
    change and of the later order. `leaves` has those of both, the earlier under `before.`.
    """

    before: Verified
    after: Verified
    leaves: Mapping[str, Leaf]
    settings: tuple[Setting, ...]
    signed: tuple[Setting, ...]
    stretches: tuple[Stretch, ...]
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    inactive: tuple[Inactive, ...]
    suppressed: tuple[Suppressed, ...]
    verdict: Verdict
    rules: int


def compare_orders(before: Order, after: Order, at: int, rulebook: Rulebook) -> ComparedOrders:
    """Compare two orders as of `at`, milliseconds since 1970 UTC.

    `rulebook` has the rules on changes, as `load("change")` gives it.
    """
    rows = tuple(settings_of(before.leaves, after.leaves))
    settings = tuple(row for row in rows if row.path not in SIGNED)
    leaves = {
        **with_earlier(after.leaves, before.leaves),
        CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, at),
    }
    rules = [rule for rule in rulebook.rules.values() if _is_on_change(rule)]
    broken, unchecked = judge(((rule, rule.changes) for rule in rules), leaves)
    broken += [of_fault(fault, rulebook) for fault in faults_of(before, after, settings, at)]
    broken, silenced = without_suppressed(broken, rulebook, at)
    findings = in_words(shown(broken), after, leaves)
    suppressed = tuple(suppressed_of(silenced, after, leaves))
    unchecked = (*unchecked, *unchecked_of(before, after, settings, at, rulebook))
    first, second = (verify_order(order, at, rulebook) for order in (before, after))
    tables = first.behaviour, second.behaviour
    return ComparedOrders(
        first,
        second,
        leaves,
        settings,
        tuple(row for row in rows if row.path in SIGNED),
        () if any(table.lacking for table in tables) else tuple(stretches_of(*tables)),
        findings,
        unchecked,
        tuple(not_asked(rules, leaves)),
        suppressed,
        verdict_of(
            (*findings, *second.findings),
            (*unchecked, *second.unchecked),
            (*suppressed, *second.suppressed),
        ),
        sum(1 for rule in rules if not rule.inactive),
    )


def _is_on_change(rule: Rule) -> bool:
    """Whether a rule is asked of two orders; one that the policy leaves out is none of them."""
    return bool(rule.changes) or rule.found_by == "compare"
