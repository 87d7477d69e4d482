"""Makes findings on an order set: of orders from it, and of what was not proved of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.assessment import findings_of_faults, inactive_rules
from orderlint.finding import Fault
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import paths_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.finding import Finding, Inactive
    from orderlint.language.tree import Member, Names
    from orderlint.order import Order
    from orderlint.order_set.model import OrderSet
    from orderlint.rulebook.rule import OrderRule, Rulebook

MOST_NAMED = 3
"""The most rules that one finding names as not proved."""


def finding_on_set(found: Finding, rule: str, order: Order, book: Rulebook) -> Finding:
    """The finding, on a set, that some order from it has the finding `found`, at the same level.

    The rule with the id `rule` has its words. `order` has the place of each setting in the set.
    """
    details = {"rule": found.rule, "finding": found.says}
    fault = Fault(rule, found.path, found.written, found.place, details)
    (made,) = findings_of_faults((fault,), order, book)
    return made._replace(
        level=found.level,
        name=found.name,
        expected=found.expected,
        why=found.why,
        source=found.source,
        also=found.also,
    )


def not_proved_findings(
    reasons: Mapping[str, str], order: Order, book: Rulebook
) -> Iterator[Finding]:
    """A finding for each reason why rules were not proved of a set; `reasons` are by rule."""
    rules: dict[str, list[str]] = {}
    for rule, reason in reasons.items():
        rules.setdefault(reason, []).append(rule)
    for reason, names in rules.items():
        named = " or ".join(names) if len(names) <= MOST_NAMED else f"any of {len(names)} rules"
        yield not_proved_finding(f"That no order from the set breaks {named}", reason, order, book)


def not_proved_finding(what: str, reason: str, order: Order, book: Rulebook) -> Finding:
    """The finding that something could not be proved of a set, and why."""
    details = {"what": what, "reason": reason}
    fault = Fault("could-not-be-proved", "", "", order.place_of(""), details)
    (made,) = findings_of_faults((fault,), order, book)
    return made


def inactive_on_set(rules: Iterable[OrderRule], order_set: OrderSet) -> Iterator[Inactive]:
    """The rules that are not asked of some order from the set, with the reasons."""

    def may_apply(choice: Member | Names) -> bool:
        (path,) = paths_of(choice)
        options = order_set.slots[path].options
        return any(evaluate(choice, {path: leaf}) is not False for leaf in options)

    return inactive_rules(rules, may_apply)
