"""For a broken rule: the setting or section that need only be hidden from some orders.

A question for those who keep the set. Proved anew before it is given, with each rule of that level
or above that reads what is hidden.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.language.tree import paths_in
from orderlint.order import SIGNING_FIELDS
from orderlint.order_set.model import Gate, OrderSet, Slot, within
from orderlint.order_set.visibility import gate_of
from orderlint.proof.narrowing import KEPT, conditions_of, widest_at
from orderlint.proof.prover import Decision, Prover
from orderlint.proof.search_space import Picks, is_variable

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

    from orderlint.rulebook.rule import OrderRule


class Gating(NamedTuple):
    """A condition with which a setting or section is shown, and a rule is kept by every order."""

    path: str
    condition: str


def gating_of(
    prover: Prover, rule: OrderRule, rules: Sequence[OrderRule], witness: Picks
) -> Gating | None:
    """The first that would do, by the set's choices in their order; None where none is found.

    No order then breaks another of `rules`, or leaves it unchecked, that every order kept, if it is
    of the same level or heavier.
    """
    tree, own = conditions_of(prover, [rule])
    for slot in own.slots.values():
        if is_variable(slot) and is_closed_choice(slot):
            ways = widest_at(prover, tree, own, slot, [witness])
            kept = {str(slot.options[index].value) for index in ways[0].kept} if ways else set()
            for made in _candidates(prover.space.order_set, slot, kept, paths_in(tree)):
                if _will_do(prover, rule, rules, made):
                    return made
    return None


def is_closed_choice(slot: Slot) -> bool:
    """Whether a condition can name each option: what is signed later it cannot read."""
    field = field_table().fields[slot.path]
    is_choice = field.kind == "choice" and field.otherwise is None
    return (
        is_choice and slot.path not in SIGNING_FIELDS and all(leaf.known for leaf in slot.options)
    )


def _candidates(
    order_set: OrderSet, slot: Slot, kept: Collection[str], read: Iterable[str]
) -> Iterator[Gating]:
    """Each setting that a rule reads, then each section over it, shown with what is kept alone."""
    if not kept:
        return
    choices = [choice for choice in field_table().fields[slot.path].choices if choice in kept]
    quoted = ", ".join(f"'{choice}'" for choice in choices)
    condition = f"{slot.path} == {quoted}" if len(choices) == 1 else f"{slot.path} in {{{quoted}}}"
    paths = [path for path in read if order_set.slots[path].place is not None]
    over = [path.rpartition(".")[0] for path in paths]
    for path in dict.fromkeys((*paths, *(section for section in over if section))):
        if not within(slot.path, path):
            yield Gating(path, condition)


def _will_do(prover: Prover, rule: OrderRule, rules: Sequence[OrderRule], made: Gating) -> bool:
    changed = gated(prover.space.order_set, made)
    if changed is None or Prover(changed, [rule], prover.limits).decide(rule).result not in KEPT:
        return False
    others = [
        other
        for other in rules
        if other.id != rule.id
        and other.level.weight >= rule.level.weight
        and any(within(path, made.path) for path in paths_in(*other.conditions))
    ]
    again = Prover(changed, others, prover.limits)
    unasked = {*KEPT, Decision.AT_SIGNING, Decision.INACTIVE}
    return all(
        again.decide(other).result in unasked or prover.decide(other).result not in unasked
        for other in others
    )


def gated(order_set: OrderSet, made: Gating) -> OrderSet | None:
    """The set with that condition; None where what it reads hangs on what it hides."""
    gate = gate_of(made.path, made.condition, order_set.place_of(made.path))
    over = (n for n, other in enumerate(order_set.gates, 1) if _is_over(other, gate))
    first = max(over, default=0)
    before, after = order_set.gates[:first], order_set.gates[first:]
    if any(within(path, made.path) for other in before for path in paths_in(other.tree)):
        return None
    return replace(order_set, gates=(*before, gate, *after))


def _is_over(other: Gate, gate: Gate) -> bool:
    """Whether a gate can hide what another reads."""
    return any(within(path, other.path) for path in paths_in(gate.tree))
