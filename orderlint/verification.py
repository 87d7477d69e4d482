"""One order in; findings, what could not be checked, and what the controller would do out.

Joins reading, rulebook and behaviour. Never prints, and never reads a file.
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
from orderlint.behaviour import Behaviour, behaviour_of
from orderlint.finding import (
    Finding,
    Suppressed,
    Unchecked,
    Verdict,
    verdict_of,
)
from orderlint.language.evaluate import evaluate
from orderlint.language.types import CHECKED_AT
from orderlint.order import Leaf, State, read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.zone_check import faults_of as off_zone

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Fault, Inactive
    from orderlint.order import Order
    from orderlint.rulebook.rule import Rule, Rulebook


@dataclass(frozen=True, slots=True)
class Verified:
    """All that is said of one order, heaviest finding first.

    `order` holds every leaf as read; `rules` counts the rules asked; `policy` is the title of the
    policy they rest on, `suppressed` what that policy keeps from being shown as a finding.
    """

    file: str
    order: Order
    verdict: Verdict
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    inactive: tuple[Inactive, ...]
    behaviour: Behaviour
    rules: int
    policy: str
    suppressed: tuple[Suppressed, ...] = ()
    weaker: tuple[str, ...] = ()


def verify(data: bytes, file: str, at: int, rulebook: Rulebook | None = None) -> Verified:
    """Check one order.

    `data` is the file's bytes, YAML or JSON; `file` its name for places; `at` the instant of
    checking in milliseconds since 1970 UTC. Raises Refused where the file is not a readable order.
    """
    return verify_order(read_order(read(data, file, "order")), at, rulebook or load("order"))


def verify_order(order: Order, at: int, rulebook: Rulebook) -> Verified:
    """Check an order that has been read."""
    leaves = {**order.leaves, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, at)}
    broken, unchecked = judge(((r, r.instances) for r in rulebook.rules.values()), leaves)
    broken.extend(of_fault(fault, rulebook) for fault in (*order.faults, *off_zone(order)))
    broken, silenced = without_suppressed(broken, rulebook, at)
    faults = [*rulebook.faults, *_expired(rulebook, at)]
    broken.extend(of_fault(fault, rulebook) for fault in faults)
    ranks = {rule: rank for rank, rule in enumerate(rulebook.rules)}
    broken.sort(key=lambda item: ranks[item.rule.id])
    findings = in_words(shown(broken), order, leaves)
    suppressed = tuple(suppressed_of(silenced, order, leaves))
    asked = sum(1 for rule in rulebook.rules.values() if rule.instances or _on_reading(rule))
    return Verified(
        order.file,
        order,
        verdict_of(findings, unchecked, suppressed),
        findings,
        unchecked,
        tuple(not_asked(rulebook.rules.values(), leaves)),
        behaviour_of(leaves, rulebook.outflow),
        asked,
        rulebook.policy,
        suppressed,
        tuple(_weaker(rulebook, leaves)),
    )


def findings_of(
    faults: Iterable[Fault], order: Order, at: int, rulebook: Rulebook
) -> tuple[tuple[Finding, ...], tuple[Suppressed, ...]]:
    """Faults that another room found beside an order, in words, and those the policy suppresses."""
    broken, silenced = without_suppressed([of_fault(f, rulebook) for f in faults], rulebook, at)
    suppressed = tuple(suppressed_of(silenced, order, order.leaves))
    return in_words(shown(broken), order, order.leaves), suppressed


def worded(faults: Iterable[Fault], order: Order, rulebook: Rulebook) -> tuple[Finding, ...]:
    """The findings of faults that are not of one order, such as those of an order set.

    Heaviest first; `order` says where a setting stands.
    """
    ranks = {rule: rank for rank, rule in enumerate(rulebook.rules)}
    broken = [of_fault(fault, rulebook) for fault in faults]
    broken.sort(key=lambda item: ranks[item.rule.id])
    return in_words(shown(broken), order, order.leaves)


def _weaker(rulebook: Rulebook, leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """The policy's values with which more orders pass; of a table, if they may bear on this one."""
    for item in rulebook.weaker:
        if item.applies_if is None or evaluate(item.applies_if, leaves) is not False:
            yield item.fault.details["value"]


def _expired(rulebook: Rulebook, at: int) -> Iterator[Fault]:
    expired = [item for item in rulebook.suppressions if at >= item.until]
    if expired:
        from orderlint.rulebook.policy.suppressions import fault  # noqa: PLC0415 - cold start

        yield from (fault("suppression-expired", item) for item in expired)


def _on_reading(rule: Rule) -> bool:
    """Whether reading an order finds this, rather than a condition."""
    return rule.found_by in {"reading", "schema", "units"}
