"""For a broken rule: the order nearest to the presets that breaks it, and what was picked for it.

Evaluated again before it is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.language.evaluate import evaluate
from orderlint.language.tree import And, Tree, paths_in
from orderlint.proof.distance import Key, differs_from_preset
from orderlint.proof.search_space import (
    Disagreement,
    dependency_closure,
    is_variable,
    leaf_at,
    leaves_of,
)
from orderlint.proof.solver.partial_eval import is_constant, settled_value

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet, Slot
    from orderlint.proof.prover import Proof, Prover
    from orderlint.proof.search_space import Picks, SlotChoice
    from orderlint.rulebook.rule import Instance, OrderRule


@dataclass(frozen=True, slots=True)
class Pick:
    """What was picked at one slot on which a rule depends, and what stands there if nobody picks.

    `index` is that of the option, None for a value of an unbounded blank; `preset` is None where
    there is none.
    """

    path: str
    index: int | None
    leaf: Leaf
    preset: Leaf | None
    differs_from_preset: bool


@dataclass(frozen=True, slots=True)
class SectionChoice:
    """Whether an offered section was taken, and whether it is taken if nobody says."""

    path: str
    taken: bool
    preset: bool


@dataclass(frozen=True, slots=True)
class Counterexample:
    """The nearest order on which a rule is broken.

    `picks` and `sections` are those on which the rule depends; `whole` has those of all slots, the
    rest at their presets, and `leaves` the order they yield. `broken` are the conditions that it
    breaks. `is_least` is false where the solver gave no answer to whether any order is nearer.
    """

    rule: str
    picks: tuple[Pick, ...]
    sections: tuple[SectionChoice, ...]
    whole: Picks
    leaves: Mapping[str, Leaf]
    broken: tuple[Instance, ...]
    is_least: bool


def counterexample_of(prover: Prover, rule: OrderRule, proof: Proof) -> Counterexample:
    """The nearest order that breaks a rule that `decide` found broken.

    ValueError where it did not.
    """
    if proof.witness is None or proof.result.value != "broken":
        raise ValueError(f"{rule.id} is not broken")
    asked = prover.before_signing(rule)
    tree = And(tuple(instance.condition for instance in asked))
    picks, is_least = nearest_to_presets(prover, tree, proof.witness)
    leaves = leaves_of(prover.space.order_set, picks)
    broken = tuple(instance for instance in asked if evaluate(instance.condition, leaves) is False)
    if not broken:
        raise Disagreement(rule.id, "this order breaks it", "and by its meaning it does not")
    own = dependency_closure(prover.space.order_set, paths_in(tree))
    shown, sections = picks_of(own, picks)
    return Counterexample(rule.id, shown, sections, picks, leaves, broken, is_least)


def nearest_to_presets(prover: Prover, tree: Tree, witness: Picks) -> tuple[Picks, bool]:
    """From one order on which a tree is false to the nearest, and whether none is nearer."""
    base = prover.space.base
    if evaluate(tree, leaves_of(prover.space.order_set, base)) is False:
        return base, True  # nothing is nearer to the presets than they are
    from orderlint.proof.solver.minimal_counterexample import Minimizer  # noqa: PLC0415 - z3 is slow to import

    minimizer = Minimizer(prover.search, tree)
    return minimizer.nearest(witness), minimizer.is_least


def nearest_within(prover: Prover, tree: Tree, most: Key) -> tuple[Picks | None, bool]:
    """The nearest order on which a tree is false, if it takes no more departures and steps than
    `most`; and whether that was settled.
    """
    folded = prover.evaluator.simplify(tree)
    if is_constant(folded) and settled_value(folded) is not False:
        return None, True
    if evaluate(tree, leaves_of(prover.space.order_set, prover.space.base)) is False:
        return prover.space.base, True
    from orderlint.proof.solver.minimal_counterexample import Minimizer  # noqa: PLC0415 - z3 is slow to import

    minimizer = Minimizer(prover.search, tree)
    return minimizer.nearest_within(most), minimizer.is_least


def picks_of(
    order_set: OrderSet, picks: Picks
) -> tuple[tuple[Pick, ...], tuple[SectionChoice, ...]]:
    """What was picked at each slot of a set that leaves a choice, and at each offered section."""
    takings = tuple(
        SectionChoice(path, picks.sections_on[path], section.preset)
        for path, section in order_set.offered_sections.items()
    )
    variable = (slot for slot in order_set.slots.values() if is_variable(slot))
    return tuple(_pick(slot, picks.chosen[slot.path]) for slot in variable), takings


def _pick(slot: Slot, choice: SlotChoice) -> Pick:
    preset = None if slot.preset is None else slot.options[slot.preset]
    index = choice if isinstance(choice, int) else None
    return Pick(slot.path, index, leaf_at(slot, choice), preset, differs_from_preset(slot, choice))
