"""The narrowings of several broken rules as one change, from which nothing needless is taken.

Never a narrowing that is not proved of all these rules together.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from orderlint.proof.narrowing import KEPT, Narrowing, apply, conditions_of, widest_at, width
from orderlint.proof.prover import Prover
from orderlint.proof.search_space import dependency_closure, paths_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from orderlint.order_set.model import OrderSet, Slot
    from orderlint.rulebook.rule import OrderRule


def meet(
    prover: Prover, rules: Sequence[OrderRule], narrowings: Iterable[Narrowing]
) -> tuple[Narrowing, ...]:
    """The narrowings taken together, each as wide as the others allow.

    A change to one slot may do for the rules of another: then less need go there, or nothing. The
    one that takes away the most is looked at first. Nothing where all these rules are not then kept
    by every order, or where nothing is left at a slot.
    """
    slots = prover.space.order_set.slots
    joined: dict[str, Narrowing] = {}
    for made in narrowings:
        other = joined.get(made.path, made)
        joined[made.path] = both(slots[made.path], other, made)
    if any(leaves_nothing(made) for made in joined.values()):
        return ()
    for path in sorted(joined, key=lambda path: joined[path].share):
        _widen(prover, rules, joined, path)
    found = tuple(joined.values())
    return found if _are_kept(prover, rules, found) else ()


def _widen(
    prover: Prover, rules: Sequence[OrderRule], joined: dict[str, Narrowing], path: str
) -> None:
    """Put the widest there is beside the others in place of one; take it out if nothing need go."""
    order_set = prover.space.order_set
    slot = order_set.slots[path]
    changed = _changed(order_set, {p: made for p, made in joined.items() if p != path})
    again = Prover(changed, rules, prover.limits)
    bearing = [rule for rule in rules if path in _reads(again, rule)]
    tree, own = conditions_of(again, bearing)
    ways = widest_at(again, tree, own, slot, [])
    if ways and ways[0].is_whole(slot):
        del joined[path]
    elif ways:
        joined[path] = ways[0]


def _reads(prover: Prover, rule: OrderRule) -> Iterable[str]:
    """The slots on which it depends whether a rule is kept."""
    read = [path for item in rule.instances for path in paths_in(item.condition)]
    return dependency_closure(prover.space.order_set, read).slots


def _changed(order_set: OrderSet, narrowings: Mapping[str, Narrowing]) -> OrderSet:
    for made in narrowings.values():
        order_set = apply(order_set, made)
    return order_set


def _are_kept(prover: Prover, rules: Sequence[OrderRule], found: Sequence[Narrowing]) -> bool:
    """Whether no order breaks the rules, or leaves them unchecked, with these changes made."""
    changed = _changed(prover.space.order_set, {made.path: made for made in found})
    again = Prover(changed, rules, prover.limits)
    return all(again.decide(rule).result in KEPT for rule in rules)


def both(slot: Slot, one: Narrowing, other: Narrowing) -> Narrowing:
    """What two narrowings of one slot both keep."""
    kept = tuple(index for index in one.kept if index in other.kept)
    if one.span is None or other.span is None or slot.span is None:
        size = len(slot.options) + (slot.span is not None)
        return Narrowing(slot.path, kept, None, Fraction(len(kept), size))
    lowest = max(one.span.lowest, other.span.lowest)
    span = replace(slot.span, lowest=lowest, highest=min(one.span.highest, other.span.highest))
    share = Fraction(width(span), width(slot.span) or 1)
    return Narrowing(slot.path, kept, span if width(span) >= 0 else None, share)


def leaves_nothing(made: Narrowing) -> bool:
    """Whether nothing could stand there."""
    return not made.kept and made.span is None
