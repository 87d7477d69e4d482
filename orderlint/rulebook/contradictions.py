"""Asks z3 whether some order of each therapy keeps every do-not-start rule; if none, which rules
are in each other's way.

The order that shows it is evaluated before it is returned.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import z3

from orderlint.fields import field_table
from orderlint.finding import Level
from orderlint.language.budget import Budget
from orderlint.language.evaluate import evaluate
from orderlint.language.model_leaves import leaf_in, read_by
from orderlint.language.run_z3 import PaidSolver
from orderlint.language.to_z3 import choice_code, known_of, solve, value_of
from orderlint.rulebook.rule import POLICY_FAMILY
from orderlint.rulebook.satisfiability import (
    OF_A_RULE,
    facts_of,
    field_at,
    paths_read,
    settled_model,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.language.tree import Tree
    from orderlint.order import Leaf
    from orderlint.rulebook.rule import Rulebook

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
    trees = {rule.id: [each.condition for each in rule.instances] for rule in heavy}
    asked = {rule: found for rule, found in trees.items() if found}
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
    fields = [field_at(path) for path in dict.fromkeys((THERAPY, *paths_read(every)))]
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
