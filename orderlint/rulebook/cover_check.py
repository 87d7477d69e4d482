"""Asks z3 whether an order breaks a rule together with one that it covers, at a setting they share.

Of rules that conditions find. Never of one that code finds, of which no condition is known.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Literal, NamedTuple

import z3

from orderlint.language.budget import Budget
from orderlint.language.run_z3 import PaidSolver
from orderlint.language.to_z3 import solve
from orderlint.rulebook.rule import POLICY_FAMILY, CodeRule
from orderlint.rulebook.satisfiability import OF_A_RULE, facts_of
from orderlint.rulebook.subjects import subjects_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.rulebook.rule import Instance, Rule, Rulebook


class CheckedCover(NamedTuple):
    """That `upper` covers `lower`, and whether some order needs it; `open` without an answer."""

    upper: str
    lower: str
    needed: Literal["yes", "no", "open"]


def check_covers(rule: Rule, rulebook: Rulebook, whole: Budget) -> Iterator[CheckedCover]:
    """The covers of a policy's own rule, and those of built-in rules over it.

    Left out are covers that only follow from others, and those of which it cannot be decided.
    """
    for upper, lower in _written(rule, rulebook):
        pairs = _pairs(upper, lower, rulebook)
        if pairs is not None:
            yield CheckedCover(upper.id, lower.id, _needed(pairs, Budget(OF_A_RULE, whole)))


def _written(rule: Rule, rulebook: Rulebook) -> Iterator[tuple[Rule, Rule]]:
    rules = rulebook.rules
    below = [(rule, rules[name]) for name in rules if name in rule.covers]
    above = [(each, rule) for each in rules.values() if rule.id in each.covers]
    for upper, lower in (*below, *(pair for pair in above if pair[0].family != POLICY_FAMILY)):
        if not any(lower.id in rules[name].covers for name in upper.covers):
            yield upper, lower


def _pairs(upper: Rule, lower: Rule, rulebook: Rulebook) -> list[tuple[Instance, Instance]] | None:
    """The conditions of which one may hide the other by this cover, itself or carried through.

    None where that is not decided by conditions, or where one of the two rules is not asked.
    """
    rules = rulebook.rules
    over = [upper, *(each for each in rules.values() if upper.id in each.covers)]
    under = [lower, *(rules[name] for name in sorted(lower.covers))]
    found: list[tuple[Instance, Instance]] = []
    for one, other in product(over, under):
        if isinstance(one, CodeRule) or isinstance(other, CodeRule) or type(one) is not type(other):
            return None
        found += product(one.instances, other.instances)
    is_asked = all(not isinstance(each, CodeRule) and each.instances for each in (upper, lower))
    return [pair for pair in found if not _apart(*pair)] if is_asked else None


def _apart(one: Instance, other: Instance) -> bool:
    first, second = (subjects_of(each.paths, each.condition) for each in (one, other))
    return first.isdisjoint(second)


def _needed(pairs: list[tuple[Instance, Instance]], budget: Budget) -> Literal["yes", "no", "open"]:
    """Whether an order breaks both conditions of a pair."""
    if not pairs:
        return "no"
    solver = PaidSolver(budget)
    solver.add(*facts_of([each.condition for pair in pairs for each in pair]))
    both = (z3.And([solve(each.condition).false for each in pair]) for pair in pairs)
    solver.add(z3.Or([*both]))
    result = solver.paid_check()
    return "yes" if result == z3.sat else "no" if result == z3.unsat else "open"
