"""One order in; findings, what could not be checked, and what the controller would do out.

Joins reading, rulebook and behaviour. Never prints, and never reads a file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.additive import additive_of
from orderlint.assessment import Assessment, Check, assess
from orderlint.behaviour import Behaviour, behaviour_of
from orderlint.language.evaluate import evaluate
from orderlint.language.types import CHECKED_AT
from orderlint.order import Leaf, State, read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.zone_check import offset_faults as off_zone

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.additive import Additive
    from orderlint.finding import Fault
    from orderlint.order import Order
    from orderlint.rulebook.rule import Rule, Rulebook


@dataclass(frozen=True, slots=True)
class Verified:
    """All that is said of one order.

    `order` holds every leaf as read. `policy` is the title of the policy that the rules rest on,
    `weaker` its values with which more orders pass. `additive` is what runs in of a drug, where
    that can be reckoned.
    """

    file: str
    order: Order
    assessment: Assessment
    behaviour: Behaviour
    policy: str
    weaker: tuple[str, ...] = ()
    additive: Additive | None = None


def verify(data: bytes, file: str, at: int, rulebook: Rulebook | None = None) -> Verified:
    """Check one order.

    `data` is the file's bytes, YAML or JSON; `file` its name for places; `at` the instant of
    checking in milliseconds since 1970 UTC. Raises Refused where the file is not a readable order.
    """
    return verify_order(read_order(read(data, file, "order")), at, rulebook or load("order"))


def verify_order(order: Order, at: int, rulebook: Rulebook) -> Verified:
    """Check an order that has been read."""
    leaves = {**order.leaves, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, at)}
    rules = rulebook.rules.values()
    check = Check(
        asked=tuple((rule, rule.instances) for rule in rules),
        rules=sum(1 for rule in rules if rule.instances or _on_reading(rule)),
        faults=(*order.faults, *off_zone(order)),
        policy_faults=(*rulebook.faults, *_expired(rulebook, at)),
    )
    return Verified(
        order.file,
        order,
        assess(check, order, leaves, at, rulebook),
        behaviour_of(leaves, rulebook.outflow),
        rulebook.policy,
        tuple(_weaker(rulebook, leaves)),
        additive_of(leaves, rulebook),
    )


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
