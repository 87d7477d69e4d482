"""Asks z3 for orders that break a rule, that keep it, and that break no other rule with it.

Each order that z3 finds is evaluated before it is returned.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import z3

from orderlint.fields import field_table
from orderlint.language.budget import Budget
from orderlint.language.evaluate import evaluate
from orderlint.language.model_leaves import leaf_in, nameable, read_by
from orderlint.language.run_z3 import PaidSolver
from orderlint.language.to_z3 import (
    Pair,
    choice_code,
    given_of,
    known_of,
    solve,
    unit_of,
    value_of,
    well_formed,
)
from orderlint.language.tree import Not, Or, Tree, paths_in
from orderlint.language.types import Scope
from orderlint.leaf_reader import example_leaf
from orderlint.rulebook.rule import ConditionRule, OrderRule, Rulebook
from orderlint.units import ticks_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.field import Field
    from orderlint.order import Leaf

OF_A_RULE = 20
"""Million steps that z3 has for one rule: some ten seconds."""


@dataclass(frozen=True, slots=True)
class Satisfiability:
    """Whether there is such an order; `open` if z3 found no answer within its effort.

    `leaves` is an order for `yes`; `because` are the rules that exclude one for `no`.
    """

    found: Literal["yes", "no", "open"]
    leaves: Mapping[str, Leaf] | None = None
    because: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Possible:
    """Whether a rule can be broken, be kept, and be broken while no other rule is."""

    broken: Satisfiability
    kept: Satisfiability
    alone: Satisfiability


def possible(rule: ConditionRule, rulebook: Rulebook, whole: Budget) -> Possible:
    """What can become of a rule on the orders that can be written, paid from the whole effort."""
    budget = Budget(OF_A_RULE, whole)
    trees = rule.conditions
    pairs = [solve(tree) for tree in trees]
    broken = z3.Or([pair.false for pair in pairs])
    return Possible(
        _ask(trees, broken, False, {}, budget),
        _kept(trees, pairs, budget),
        _ask(trees, broken, False, _related(rule, rulebook), budget),
    )


def _kept(trees: Sequence[Tree], pairs: Sequence[Pair], budget: Budget) -> Satisfiability:
    """An order on which the rule's `when` is true and it is kept; else any on which it is kept."""
    whole = z3.And([pair.true for pair in pairs])
    asked = z3.Or([_asked(tree) for tree in trees])
    answer = _ask(trees, z3.And(whole, asked), True, {}, budget)
    return answer if answer.found == "yes" else _ask(trees, whole, True, {}, budget)


def _asked(tree: Tree) -> z3.BoolRef:
    """Where a rule's `when` is true; everywhere if it has none."""
    match tree:
        case Or((Not(context), _)):
            return solve(context).true
        case _:
            return z3.BoolVal(True)


def _related(rule: ConditionRule, rulebook: Rulebook) -> Mapping[str, Sequence[Tree]]:
    """The conditions of the other rules of its kind that read a leaf that it reads."""
    read = set(paths_in(*rule.conditions))
    of_kind = rulebook.order_rules if isinstance(rule, OrderRule) else rulebook.change_rules
    others = {other.id: other.conditions for other in of_kind if other.id != rule.id}
    return {name: found for name, found in others.items() if read.intersection(paths_in(*found))}


def _ask(
    trees: Sequence[Tree],
    wanted: z3.BoolRef,
    outcome: bool,
    others: Mapping[str, Sequence[Tree]],
    budget: Budget,
) -> Satisfiability:
    """Whether `wanted` is true on some order that breaks none of the other rules."""
    every = [*trees, *(tree for found in others.values() for tree in found)]
    fields = [field_at(path) for path in paths_in(*every)]
    read = read_by(every)
    solver = PaidSolver(budget)
    solver.set("core.minimize", True)
    solver.add(wanted, *(fact for field in fields for fact in well_formed(field)))
    solver.add(*(fact for field in fields for fact in nameable(field, read.lists_of(field.path))))
    for name, found in others.items():
        kept = z3.And([z3.Not(solve(tree).false) for tree in found])
        solver.assert_and_track(kept, z3.Bool(f"rule {name}"))
    result = solver.paid_check()
    if result == z3.sat:
        model = settled_model(solver, [field_at(path) for path in paths_in(*trees)])
        leaves = {field.path: leaf_in(model, field, read) for field in fields}
        _try(trees, outcome, others, leaves)
        return Satisfiability("yes", leaves)
    if result != z3.unsat:
        return Satisfiability("open")
    core = [str(name).removeprefix("rule ") for name in solver.unsat_core()]
    return Satisfiability("no", because=tuple(name for name in others if name in core))


def settled_model(solver: PaidSolver, own: Sequence[Field]) -> z3.ModelRef:
    """A model in which the rule's own leaves are as near to the schema's examples as possible.

    So the order is plausible, and does not depend on the version of z3.
    """
    model, others = _exampled(solver, own, solver.model())
    for field in others:
        for choices in _preferences(field):
            model = _first(solver, choices, model) or model
        if field.kind in {"quantity", "instant", "count"}:
            model = _nearest(solver, field, model)
    return model


def _exampled(
    solver: PaidSolver, own: Sequence[Field], model: z3.ModelRef
) -> tuple[z3.ModelRef, Sequence[Field]]:
    """Fix leaves to the schema's examples, many at a time; return the fields that cannot be too."""
    found = _first(solver, [z3.And([_like_example(field) for field in own])], model)
    if found is not None or len(own) == 1:
        return found or model, own if found is None else ()
    half = len(own) // 2
    model, others = _exampled(solver, own[:half], model)
    model, more = _exampled(solver, own[half:], model)
    return model, (*others, *more)


def _like_example(field: Field) -> z3.BoolRef:
    example = example_leaf(field)
    like = [known_of(field.path), given_of(field.path)]
    if isinstance(example.value, int):
        like.append(value_of(field.path) == example.value)
    elif field.kind == "choice":
        like.append(value_of(field.path) == choice_code(str(example.value)))
    if example.unit is not None:
        like.append(unit_of(field.path) == choice_code(example.unit))
    return z3.And(like)


def _preferences(field: Field) -> Iterator[list[z3.BoolRef]]:
    yield [known_of(field.path), given_of(field.path), z3.Not(given_of(field.path))]
    if field.kind == "choice":
        yield [value_of(field.path) == choice_code(choice) for choice in field.choices]
    if field.kind == "quantity":
        yield [unit_of(field.path) == choice_code(unit) for unit in field.decimals]
    yield [_whole(field)]


def _whole(field: Field) -> z3.BoolRef:
    """That a value is a whole number of its unit, or of minutes."""
    value = value_of(field.path)
    if field.kind == "instant":
        return value % 60_000 == 0
    unit = unit_of(field.path)
    return z3.And(
        [z3.Implies(unit == choice_code(u), value % ticks_of(u) == 0) for u in field.decimals]
    )


def _first(
    solver: PaidSolver, facts: Iterable[z3.BoolRef], model: z3.ModelRef
) -> z3.ModelRef | None:
    """Add the first fact that can hold, and return a model of it; None if none can.

    `model` is one of what the solver holds so far: a fact that is true in it needs no search.
    """
    for fact in facts:
        found = model if z3.is_true(model.eval(fact, model_completion=True)) else None
        if found is None:
            solver.push()
            solver.add(fact)
            found = solver.model() if solver.paid_check() == z3.sat else None
            solver.pop()
        if found is not None:
            solver.add(fact)
            return found
    return None


def _nearest(solver: PaidSolver, field: Field, model: z3.ModelRef) -> z3.ModelRef:
    """Fix the value nearest to the example's, by bisection."""
    value, example = value_of(field.path), example_leaf(field).value
    assert isinstance(example, int)
    near, far = -1, abs(model.eval(value, model_completion=True).as_long() - example)
    while far - near > 1:
        between = (near + far) // 2
        solver.push()
        solver.add(value >= example - between, value <= example + between)
        is_near = solver.paid_check() == z3.sat
        solver.pop()
        near, far = (near, between) if is_near else (between, far)
    return _first(solver, [value == example + far, value == example - far], model) or model


def _try(
    trees: Sequence[Tree],
    outcome: bool,
    others: Mapping[str, Sequence[Tree]],
    leaves: Mapping[str, Leaf],
) -> None:
    """Evaluate the rules on z3's order. Raises RuntimeError if the outcome is not z3's."""
    results = [evaluate(tree, leaves) for tree in trees]
    met = all(results) if outcome else False in results
    quiet = all(evaluate(t, leaves) is not False for found in others.values() for t in found)
    if not (met and quiet):
        raise RuntimeError("a witness of the solver is none by the meaning of the rules")


def facts_of(trees: Sequence[Tree], *beside: str) -> list[z3.BoolRef]:
    """What holds of every order that can be written, at the leaves `beside` and those read."""
    read = read_by(trees)
    fields = [field_at(path) for path in dict.fromkeys((*beside, *paths_in(*trees)))]
    return [
        holds
        for field in fields
        for holds in (*well_formed(field), *nameable(field, read.lists_of(field.path)))
    ]


def field_at(path: str) -> Field:
    """The field of a leaf; its path keeps the prefix `before.`."""
    return Scope(field_table(), change=True).field(path, 0)[1]._replace(path=path)
