"""What the author of an order set is told of orders from it, and of what was not proved of them.

Findings in the words of the rulebook. Never a proof, and never a verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Fault
from orderlint.verification import worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.finding import Finding
    from orderlint.order import Order
    from orderlint.rulebook.rule import Rulebook

MOST_NAMED = 3
"""Rules that one finding names because they were not proved."""


def about(found: Finding, rule: str, order: Order, book: Rulebook) -> Finding:
    """The finding of a set that some order from it has a finding; at the level of that one.

    `rule` is the one with the words for it, `order` says where a setting of the set stands.
    """
    details = {"rule": found.rule, "finding": found.says}
    fault = Fault(rule, found.path, found.written, found.place, details)
    (made,) = worded((fault,), order, book)
    return made._replace(
        level=found.level,
        name=found.name,
        expected=found.expected,
        why=found.why,
        source=found.source,
        also=found.also,
    )


def not_proved(reasons: Mapping[str, str], order: Order, book: Rulebook) -> Iterator[Finding]:
    """A finding for each reason why rules were not proved of a set; `reasons` are by rule."""
    rules: dict[str, list[str]] = {}
    for rule, reason in reasons.items():
        rules.setdefault(reason, []).append(rule)
    for reason, names in rules.items():
        named = " or ".join(names) if len(names) <= MOST_NAMED else f"any of {len(names)} rules"
        yield unproved(f"That no order from the set breaks {named}", reason, order, book)


def unproved(what: str, reason: str, order: Order, book: Rulebook) -> Finding:
    """The finding that something could not be proved of a set, and why."""
    details = {"what": what, "reason": reason}
    fault = Fault("could-not-be-proved", "", "", order.place_of(""), details)
    (made,) = worded((fault,), order, book)
    return made
