"""Asks z3 how rules bear on one another: on covers, and on keeping every do-not-start rule.

A cover is needed where an order breaks both rules at a setting they share. Where no order of a
therapy keeps every do-not-start rule, the order that shows it is evaluated before it is returned.
Never a rule that code finds, of which no condition is known.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Literal, NamedTuple

import z3

from orderlint.fields import field_table
from orderlint.finding import Level
from orderlint.language.budget import Budget
from orderlint.language.evaluate import evaluate
from orderlint.language.model_leaves import leaf_in, read_by
from orderlint.language.run_z3 import PaidSolver
from orderlint.language.to_z3 import choice_code, known_of, solve, value_of
from orderlint.language.tree import Tree, paths_in
from orderlint.rulebook.rule import POLICY_FAMILY, CodeRule, Instance, Rule, Rulebook, subjects_of
from orderlint.rulebook.satisfiability import (
    OF_A_RULE,
    facts_of,
    field_at,
    settled_model,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.order import Leaf


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


THERAPY = "therapy"


class Contradiction(NamedTuple):
    """Do-not-start rules of which no order of a therapy keeps all.

    `leaves` is an order that breaks `broken` and keeps the other `rules`; None where no order keeps
    those, or none was found within the effort. `is_open` is true where the solver gave no answer.
    """

    therapy: str
    rules: tuple[str, ...]
    broken: str = ""
    leaves: Mapping[str, Leaf] | None = None
    is_open: bool = False


def contradictions(rulebook: Rulebook, budget: Budget) -> Iterator[Contradiction]:
    """For each therapy of which no order keeps every do-not-start rule, the rules in the way."""
    heavy = [rule for rule in rulebook.order_rules if rule.level is Level.DO_NOT_START]
    asked = {rule.id: rule.conditions for rule in heavy if rule.instances}
    own = [rule.id for rule in heavy if rule.family == POLICY_FAMILY]
    kept = {rule: z3.And([solve(each).true for each in found]) for rule, found in asked.items()}
    held = facts_of([tree for found in asked.values() for tree in found], THERAPY)
    for therapy in field_table().fields[THERAPY].choices:
        result, core = _kept_together(kept, _solver(held, therapy, budget))
        if result == z3.unsat:
            yield _shown(therapy, core, own, asked, budget)
        elif result != z3.sat:
            yield Contradiction(therapy, (), is_open=True)


def _kept_together(
    kept: Mapping[str, z3.BoolRef], solver: PaidSolver
) -> tuple[z3.CheckSatResult, tuple[str, ...]]:
    """Whether an order of a therapy keeps all of these; the rules in the way where none does."""
    solver.set("core.minimize", True)
    names = {f"rule {rule}": rule for rule in kept}
    for name, rule in names.items():
        solver.assert_and_track(kept[rule], z3.Bool(name))
    result = solver.paid_check()
    core = {str(name) for name in solver.unsat_core()} if result == z3.unsat else set()
    return result, tuple(rule for name, rule in names.items() if name in core)


def _shown(
    therapy: str,
    core: tuple[str, ...],
    own: Iterable[str],
    asked: Mapping[str, Sequence[Tree]],
    budget: Budget,
) -> Contradiction:
    """The contradiction with an order that keeps all but one: all but the policy's own, if any."""
    broken = next((rule for rule in core if rule in own), core[-1])
    others = [tree for rule in core if rule != broken for tree in asked[rule]]
    every = [*others, *asked[broken]]
    solver = _solver(facts_of(every, THERAPY), therapy, budget)
    solver.add(*(solve(tree).true for tree in others))
    solver.add(z3.Or([solve(tree).false for tree in asked[broken]]))
    if solver.paid_check() != z3.sat:
        return Contradiction(therapy, core)
    fields = [field_at(path) for path in dict.fromkeys((THERAPY, *paths_in(*every)))]
    read, model = read_by(every), settled_model(solver, fields)
    leaves = {field.path: leaf_in(model, field, read) for field in fields}
    kept = all(evaluate(tree, leaves) is True for tree in others)
    if not kept or all(evaluate(tree, leaves) is not False for tree in asked[broken]):
        raise RuntimeError("a witness of the solver is none by the meaning of the rules")
    return Contradiction(therapy, core, broken, leaves)


def _solver(held: Iterable[z3.BoolRef], therapy: str, whole: Budget) -> PaidSolver:
    """A solver that holds what every order of a therapy has."""
    solver = PaidSolver(Budget(OF_A_RULE, whole))
    solver.add(*held, known_of(THERAPY), value_of(THERAPY) == choice_code(therapy))
    return solver
