"""Makes findings on an order set: what its orders break, and which rules are not proved."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.assessment import findings_of_faults, reported_for
from orderlint.conditions import inactive_rules
from orderlint.field import in_sentence
from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Fault, Finding, Inactive, Suppressed
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Member, Names, paths_of
from orderlint.rulebook.rule import OrderRule, Rule, Rulebook
from orderlint.verification import Verified, verify_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.order import Order
    from orderlint.order_set.model import OrderSet
    from orderlint.proof.unused_options import Choices

NO_SOUND_ORDER = "no-sound-order-exists"
"""The rule that is broken by a set from which no sound order can be signed."""
MOST_NAMED = 3
"""The most rules that one finding names as not proved."""


@dataclass(frozen=True, slots=True)
class ToldBreak:
    """What is told of an order from a set that breaks a rule.

    `order_finding`: what `verify` finds on that order, by this rule or by one that covers it. None
    where the policy suppresses it; then `suppressed` has it. `set_finding`: the finding on the set.
    None where the rule that covers it is reported instead.
    """

    order_finding: Finding | None
    suppressed: Suppressed | None
    set_finding: Finding | None


def told_break(rule: str, paths: Iterable[str], order: Order, at: int, book: Rulebook) -> ToldBreak:
    """What is told of an order from a set, with the places of the set, that breaks `rule` there.

    `at`: milliseconds since 1970 UTC.
    """
    found = reported_for(rule, paths, verify_order(order, at, book).assessment, book)
    if isinstance(found, Suppressed):
        return ToldBreak(None, found, None)
    if found.rule != rule:
        return ToldBreak(found, None, None)
    on_set = finding_on_set(found, "reachable-order-breaks-rule", order, book)
    return ToldBreak(found, None, on_set)


def clock_findings(found: Verified, book: Rulebook) -> Iterator[Finding]:
    """What is wrong with the time as of which a set is judged: no preset of it is at fault.

    `found` is what `verify` finds on the presets.
    """
    for finding in found.assessment.findings:
        if is_on_clock(book.rules[finding.rule]):
            yield finding._replace(ask_whom="author")


def is_on_clock(rule: Rule) -> bool:
    """Whether the conditions of a rule read the time of checking, and nothing of an order."""
    instances = rule.instances if isinstance(rule, OrderRule) else ()
    return bool(instances) and all(each.paths == (CHECKED_AT,) for each in instances)


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
        breaks=found.rule,
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


def choice_findings(choices: Choices, why: str, order: Order, book: Rulebook) -> Iterator[Finding]:
    """What no sound order has, what no order shows, and what of that was left open, for `why`."""
    yield from findings_of_faults(_choice_faults(choices, order), order, book, apart=True)
    yield from _search_left_open(choices, why, order, book)


def _choice_faults(choices: Choices, order: Order) -> Iterator[Fault]:
    """What no sound order has, and what no order shows."""
    if choices.sound is None and not choices.sound_is_open:
        details = {"because": _rules_in_the_way(choices.rules_against)}
        yield Fault(NO_SOUND_ORDER, "", "", order.place_of(""), details)
    for item in choices.never_sound:
        if not item.is_confirmed:  # then it is only said that it was not settled
            continue
        place = item.leaf.place or order.place_of(item.path)
        details = {
            "name": in_sentence(field_table().display_name(item.path)),
            "written": item.leaf.text or "nothing",
            "because": _rules_in_the_way(item.rules),
        }
        yield Fault("choice-never-sound", item.path, item.leaf.text, place, details)
    for path in choices.never_shown:
        details = {"name": in_sentence(field_table().display_name(path))}
        yield Fault("section-never-shown", path, "", order.place_of(path), details)


def _search_left_open(
    choices: Choices, why: str, order: Order, book: Rulebook
) -> Iterator[Finding]:
    """What the search for sound orders left open, and why: unknown is no pass."""
    if choices.sound_is_open:
        yield not_proved_finding("That some order from the set is sound", why, order, book)
    one_way = [(item.path, item.index) for item in choices.never_sound if not item.is_confirmed]
    left = Counter(path for path, _ in (*choices.open, *one_way))
    if left:
        names = (
            f"{count} of the {in_sentence(field_table().display_name(path))}"
            for path, count in left.items()
        )
        said = f"the search ended before these were settled: {', '.join(names)}"
        yield not_proved_finding("That each option stands in some sound order", said, order, book)
    if choices.shown_is_open:
        yield not_proved_finding("That each section can be shown", why, order, book)


def _rules_in_the_way(rules: tuple[str, ...]) -> str:
    return f"What stands in the way: {', '.join(rules)}." if rules else ""
