"""Every comparison of every rule is pinned: a mistake in it would change some example's outcome."""

from __future__ import annotations

import pytest
import z3
from mutants import mutants
from rule_examples import RuleExample, conditions_for, examples

from orderlint.fields import field_table
from orderlint.language.evaluate import evaluate
from orderlint.language.to_z3 import solve, well_formed
from orderlint.language.tree import Tree, atoms, paths_of
from orderlint.rulebook.load import load

CONDITIONED = (*load("all").order_rules, *load("all").change_rules)


def outcomes(trees: list[Tree], example: RuleExample) -> bool | None:
    leaves = example.leaves()
    results = [evaluate(tree, leaves) for tree in trees]
    return False if False in results else None if None in results else True


def equivalent(one: Tree, other: Tree) -> bool:
    """Whether no order at all tells the two apart, proved by z3 unless they are the same tree."""
    if one == other:
        return True
    solver = z3.SimpleSolver()
    solver.set("timeout", 20_000)
    fields = field_table().fields
    for path in {path for tree in (one, other) for atom in atoms(tree) for path in paths_of(atom)}:
        if path in fields:
            solver.add(*well_formed(fields[path]))
    first, second = solve(one), solve(other)
    solver.add(z3.Or(first.true != second.true, first.false != second.false))
    return solver.check() == z3.unsat


@pytest.mark.parametrize("rule", CONDITIONED, ids=lambda rule: rule.id)
def test_every_mutant_of_a_rule_is_caught_by_one_of_its_examples(rule):
    cases = examples(rule.id)
    trees = {str(case): conditions_for(case) for case in cases}
    meant = {str(case): outcomes(trees[str(case)], case) for case in cases}
    changed = {name: [list(mutants(tree)) for tree in found] for name, found in trees.items()}
    sample = next(found for found in changed.values() if found)
    survivors = []
    for index, (name, _) in enumerate(sample[0]):
        caught = any(
            outcomes([found[index][1] for found in changed[str(case)]], case)
            is not meant[str(case)]
            for case in cases
            if changed[str(case)]
        )
        if not caught:
            original = next(found for found in trees.values() if found)
            same = [
                equivalent(tree, found[index][1])
                for tree, found in zip(original, sample, strict=True)
            ]
            if not all(same):
                survivors.append(name)
    assert not survivors, (
        f"each example of {rule.id} comes out the same where its condition has the changes "
        f"{survivors}: add one of which each part that is changed decides the outcome"
    )
