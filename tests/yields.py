"""What an order set can yield, by writing out every order: the meaning that a proof has to match.

Only for small sets: no blank without bounds, and at most MOST orders.
"""

from __future__ import annotations

from itertools import product
from math import prod
from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT
from orderlint.finding import Level
from orderlint.language.evaluate import evaluate
from orderlint.order import SIGNING_FIELDS, Leaf, State
from orderlint.order_set.model import order_of, preset_picks

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order_set.model import OrderSet
    from orderlint.rulebook.rule import Rulebook

    Picks = tuple[dict[str, Leaf], dict[str, bool]]

MOST = 4_096


def picks(order_set: OrderSet) -> Iterator[Picks]:
    """Every set of picks; what is written in signing stays to be written."""
    still, _ = preset_picks(order_set)
    open_slots = [slot for slot in order_set.slots.values() if not slot.signed]
    assert not any(slot.span for slot in open_slots)
    assert (
        prod(len(slot.options) for slot in open_slots) * 2 ** len(order_set.offered_sections)
        <= MOST
    )
    for options in product(*(slot.options for slot in open_slots)):
        for sections_on in product((True, False), repeat=len(order_set.offered_sections)):
            picked = dict(zip((slot.path for slot in open_slots), options, strict=True))
            yield (
                {**still, **picked},
                dict(zip(order_set.offered_sections, sections_on, strict=True)),
            )


def found(order_set: OrderSet, rulebook: Rulebook, at: int) -> set[str]:
    """The rules found_by proof that a set breaks."""
    if order_set.unsettled:
        return {"could-not-be-proved"}
    made = [order_of(order_set, *each) for each in picks(order_set)]
    sound = [leaves for leaves in made if is_sound(leaves, rulebook, at)]
    says = {
        "preset-breaks-rule": breaks(
            order_of(order_set, *preset_picks(order_set)), rulebook, at, set(Level)
        ),
        "reachable-order-breaks-rule": any(
            breaks(leaves, rulebook, at, set(Level)) for leaves in made
        ),
        "no-sound-order-exists": not sound,
        "choice-never-sound": bool(sound) and not all_used(order_set, sound),
        "section-never-shown": any(
            not any(evaluate(gate.tree, leaves) is True for leaves in made)
            for gate in order_set.gates
        ),
    }
    return {rule for rule, is_found in says.items() if is_found}


def outcomes(
    leaves: Mapping[str, Leaf], rulebook: Rulebook, at: int, levels: set[Level]
) -> Iterator[bool | None]:
    """What each rule says of an order, but for those that read what is written in signing."""
    whole = {**leaves, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, at)}
    for rule in rulebook.order_rules:
        for instance in rule.instances:
            if rule.level in levels and not SIGNING_FIELDS & {*instance.paths}:
                yield evaluate(instance.condition, whole)


def breaks(leaves: Mapping[str, Leaf], rulebook: Rulebook, at: int, levels: set[Level]) -> bool:
    return any(outcome is False for outcome in outcomes(leaves, rulebook, at, levels))


def is_sound(leaves: Mapping[str, Leaf], rulebook: Rulebook, at: int) -> bool:
    return all(outcomes(leaves, rulebook, at, {Level.DO_NOT_START}))


def all_used(order_set: OrderSet, sound: list[Mapping[str, Leaf]]) -> bool:
    """Whether each option of each slot stands in some sound order."""
    return all(
        any(leaves[slot.path] == option for leaves in sound)
        for slot in order_set.slots.values()
        if not slot.signed
        for option in slot.options
    )
