"""Checks a policy's own rules: their examples, and with z3 what they can find on any order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT
from orderlint.finding import Fault, Refused
from orderlint.language.budget import Budget, Watched
from orderlint.language.evaluate import evaluate
from orderlint.quantity_words import format_instant, format_quantity
from orderlint.rulebook.examples import examples_of
from orderlint.rulebook.rule import POLICY_FAMILY, ConditionRule, Rulebook
from orderlint.rulebook.rules_together import check_covers, contradictions
from orderlint.rulebook.satisfiability import Possible, field_at, possible

if TYPE_CHECKING:
    from orderlint.order import Leaf
    from orderlint.rulebook.rules_together import CheckedCover, Contradiction


_MEANING = {"breaks": False, "passes": True, "unknown": None}
_OUTCOMES = {False: "breaks it", True: "keeps it", None: "leaves it unknown"}


@dataclass(frozen=True, slots=True)
class CheckedRule:
    """A policy's own rule, whether it can be broken (None if it is not asked), and its faults.

    `covers` are those of it and over it of which it can be decided whether an order needs them.
    """

    rule: ConditionRule
    possible: Possible | None
    faults: tuple[Fault, ...]
    covers: tuple[CheckedCover, ...] = ()


def of_policy(rulebook: Rulebook, at: int, budget: Budget | None = None) -> tuple[Fault, ...]:
    """All faults of the policy itself as of `at`, milliseconds since 1970 UTC.

    `budget` pays what z3 is asked; the usual effort, if not given.
    """
    endless = (item for item in rulebook.suppressions if item.until - at > _YEAR)
    return (
        *rulebook.policy_faults(at),
        *(item.fault("suppression-without-end") for item in endless),
        *(item.fault for item in rulebook.weaker),
        *rulebook.lowered,
        *(_contradiction(item, rulebook) for item in contradictions(rulebook, budget or Budget())),
    )


def _contradiction(item: Contradiction, rulebook: Rulebook) -> Fault:
    """The fault that no order of a therapy keeps some rules, with an order that shows it."""
    shown = "Whether one keeps them was not found within the effort." if item.is_open else ""
    if item.leaves is not None:
        leaves = ", ".join(map(witness_words, item.leaves.values()))
        shown = f"This one keeps all but {item.broken}: {leaves}."
    rules = " and ".join(item.rules) or "every do-not-start rule"
    first = item.broken or next(iter(item.rules or rulebook.rules))
    details = {"therapy": item.therapy, "rules": rules, "shown": shown}
    place = rulebook.rules[first].place
    return Fault("do-not-start-contradiction", f"rules.{first}", first, place, details)


_YEAR = 366 * 86_400_000  # milliseconds


def check_own_rules(
    rulebook: Rulebook,
    watched: Watched = iter,
    budget: Budget | None = None,
) -> tuple[CheckedRule, ...]:
    """Check every rule that the policy adds. Raises Refused at an example with another outcome.

    `watched` yields the rules again, so that a caller can show progress; `budget` pays what
    z3 is asked of all of them; the usual effort, if not given.
    """
    whole = budget or Budget()
    own = [
        rule
        for rule in rulebook.rules.values()
        if isinstance(rule, ConditionRule) and rule.family == POLICY_FAMILY
    ]
    for rule in own:
        _try_examples(rule)
    return tuple(_checked(rule, rulebook, whole) for rule in watched(own))


def _try_examples(rule: ConditionRule) -> None:
    for example in examples_of(rule):
        leaves = example.leaves()
        results = [evaluate(instance.condition, leaves) for instance in rule.instances]
        met = False if False in results else None if None in results else True
        if met is not _MEANING[example.outcome]:
            message = (
                f"this example stands under {example.outcome}: of {rule.id}, and {_OUTCOMES[met]}"
            )
            raise Refused(message, example.place)


def _checked(rule: ConditionRule, rulebook: Rulebook, budget: Budget) -> CheckedRule:
    if not rule.instances:
        return CheckedRule(rule, None, ())
    found = possible(rule, rulebook, budget)
    never = {"break": found.broken.found == "no", "keep": found.kept.found == "no"}
    faults = [_fault("site-rule-vacuous", rule, lacking=word) for word in never if never[word]]
    if not faults and found.alone.found == "no":
        others = " or ".join(found.alone.because)
        faults.append(_fault("site-rule-implied", rule, others=others))
    covers = () if found.broken.found == "no" else tuple(check_covers(rule, rulebook, budget))
    faults += [
        _fault("site-rule-cover-unmatched", rule, upper=each.upper, lower=each.lower)
        for each in covers
        if each.needed == "no"
    ]
    return CheckedRule(rule, found, tuple(faults), covers)


def _fault(name: str, rule: ConditionRule, **details: str) -> Fault:
    return Fault(name, f"rules.{rule.id}", rule.id, rule.place, {"rule": rule.id, **details})


def witness_words(leaf: Leaf) -> str:
    """A path and what stands there, as in `pause.upper 22 mmHg`."""
    name = "the time of checking" if leaf.path == CHECKED_AT else leaf.path
    if not leaf.given:
        return f"{name} not written"
    if not leaf.known:
        return f"{name} that cannot be read"
    flags = f" ({', '.join(sorted(leaf.flags))})" if leaf.flags else ""
    return f"{name} {_value(leaf)}{flags}"


def _value(leaf: Leaf) -> str:
    kind = field_at(leaf.path).kind
    if kind == "quantity":
        return format_quantity(int(leaf.value or 0), leaf.unit or "")
    if kind == "instant":
        return format_instant(int(leaf.value or 0))
    return "written" if kind == "text" else str(leaf.value)
