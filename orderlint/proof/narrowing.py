"""For a broken rule: the widest choice at one slot with which no order breaks the rule.

For several, the narrowings of each as one change, from which nothing needless is taken. A question
for those who keep the set, never a value for a patient. Proved anew before it is given.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from orderlint.language.tree import And, Tree, paths_in
from orderlint.proof.prover import Decision, Prover
from orderlint.proof.search_space import Picks, dependency_closure, is_variable

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from orderlint.order_set.model import OrderSet, Slot, Span
    from orderlint.rulebook.rule import OrderRule


@dataclass(frozen=True, slots=True)
class Narrowing:
    """A smaller choice at one slot, with which no order breaks a rule or leaves it unchecked.

    `kept` are the indices of the options that stay. `span` is what stays of an unbounded blank,
    between ends that can be written in the first of its units; None where nothing does.
    `share` is how much of what could stand there is kept. `is_vacuous` is true where the rule can
    then no longer arise, `moves_preset` where what stands there if nobody picks must be another.
    """

    path: str
    kept: tuple[int, ...]
    span: Span | None
    share: Fraction
    is_vacuous: bool = False
    moves_preset: bool = False

    @property
    def is_plain(self) -> bool:
        """Whether the preset stays, and the rule may still arise."""
        return not self.is_vacuous and not self.moves_preset

    def is_whole(self, slot: Slot) -> bool:
        """Whether nothing is taken away."""
        return len(self.kept) == len(slot.options) and self.span == slot.span


def narrowings_of(
    prover: Prover, rule: OrderRule, witness: Picks
) -> tuple[tuple[Narrowing, ...], bool]:
    """Every slot at which one change would do, with its widest; and whether one was not settled.

    The one that keeps most is first, of two that keep the same share the earlier. Those that keep
    the preset come before those that do not, and those with which the rule can no longer arise come
    last.
    """
    tree, own = conditions_of(prover, [rule])
    found, is_open = [], False
    for slot in own.slots.values():
        if is_variable(slot):
            ways = widest_at(prover, tree, own, slot, [witness])
            result = _result(prover, rule, ways[0]) if ways else None
            is_open |= ways is None or result is Decision.NOT_PROVED
            if ways and result in KEPT:
                is_vacuous = result is Decision.VACUOUS
                moved = _moves_preset(slot, ways[0])
                found.append(replace(ways[0], is_vacuous=is_vacuous, moves_preset=moved))
    found.sort(key=lambda made: (made.moves_preset, made.is_vacuous, -made.share))
    return tuple(found), is_open


def _moves_preset(slot: Slot, made: Narrowing) -> bool:
    """Whether what is written there if nobody picks is taken away."""
    has_preset = slot.preset is not None and slot.options[slot.preset].given
    return has_preset and slot.preset not in made.kept


KEPT = {Decision.PROVED, Decision.VACUOUS}
"""The results of a rule that every order keeps."""


def conditions_of(prover: Prover, rules: Sequence[OrderRule]) -> tuple[Tree, OrderSet]:
    """What rules ask before signing, and the part of the set on which that depends."""
    asked = (instance for rule in rules for instance in prover.before_signing(rule))
    tree = And(tuple(instance.condition for instance in asked))
    return tree, dependency_closure(prover.space.order_set, paths_in(tree))


def apply(order_set: OrderSet, narrowing: Narrowing) -> OrderSet:
    """The set with that change made."""
    slot = order_set.slots[narrowing.path]
    options = tuple(slot.options[index] for index in narrowing.kept)
    kept_preset = slot.preset is not None and slot.preset in narrowing.kept
    preset = narrowing.kept.index(slot.preset) if kept_preset and slot.preset is not None else None
    changed = replace(slot, options=options, preset=preset, span=narrowing.span)
    return replace(order_set, slots={**order_set.slots, slot.path: changed})


def _result(prover: Prover, rule: OrderRule, narrowing: Narrowing) -> Decision:
    """By solver and enumeration, on the whole set as it would then be."""
    changed = apply(prover.space.order_set, narrowing)
    return Prover(changed, [rule], prover.limits).decide(rule).result


def widest_at(
    prover: Prover, tree: Tree, own: OrderSet, slot: Slot, known: list[Picks]
) -> list[Narrowing] | None:
    """What may stay at this slot, the widest first; none if nothing may, None if not settled.

    `own` is the part of the set on which `tree` depends, `known` are orders on which it is not
    true.
    """
    from orderlint.proof.solver.reachable_options import good_choices  # noqa: PLC0415 - z3 is slow to import

    found = good_choices(prover.search, tree, own, slot, known)
    return None if found is None else _ways(slot, *found)


def _ways(slot: Slot, good: Sequence[int], spans: Sequence[Span]) -> list[Narrowing]:
    """The options that stay, with each part of the span that may stay, the widest first.

    What is left of options in steps may no longer be equally spaced, and then stands in a list.
    """
    if slot.span is None:
        share = Fraction(len(good), len(slot.options))
        return [Narrowing(slot.path, tuple(good), None, share)] if good else []
    ends = (each if each == slot.span else _writable(each) for each in spans)
    writable = sorted((each for each in ends if width(each) >= 0), key=lambda each: -width(each))
    if writable:
        every = width(slot.span) or 1
        return [
            Narrowing(slot.path, tuple(good), each, Fraction(width(each), every))
            for each in writable
        ]
    left = Fraction(len(good), len(slot.options) + 1)
    return [Narrowing(slot.path, tuple(good), None, left)] if good else []


def _writable(span: Span) -> Span:
    """The span between ends that can be written in the first of its units.

    As they are said in that unit, so that what is proved is what is said.
    """
    grid = next(iter(span.grids.values()))
    lowest, highest = -(-span.lowest // grid) * grid, span.highest // grid * grid
    return replace(span, lowest=lowest, highest=highest)


def width(span: Span) -> int:
    """How far it is from one end to the other; below zero where nothing is left."""
    return span.highest - span.lowest


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
        joined[made.path] = intersection(slots[made.path], other, made)
    if any(leaves_nothing(made) for made in joined.values()):
        return ()
    for path in sorted(joined, key=lambda path: joined[path].share):
        _widen(prover, rules, joined, path)
    found = tuple(joined.values())
    return found if _are_kept(prover, rules, found) else ()


def _widen(
    prover: Prover, rules: Sequence[OrderRule], joined: dict[str, Narrowing], path: str
) -> None:
    """Put the widest there is beside the others in place of one; leave it out if they suffice."""
    order_set = prover.space.order_set
    slot = order_set.slots[path]
    changed = _changed(order_set, {p: made for p, made in joined.items() if p != path})
    again = Prover(changed, rules, prover.limits)
    whole = again.space.order_set
    read = {rule.id: dependency_closure(whole, paths_in(*rule.conditions)) for rule in rules}
    bearing = [rule for rule in rules if path in read[rule.id].slots]
    tree, own = conditions_of(again, bearing)
    ways = widest_at(again, tree, own, slot, [])
    if ways and ways[0].is_whole(slot):
        del joined[path]
    elif ways:
        joined[path] = ways[0]


def _changed(order_set: OrderSet, narrowings: Mapping[str, Narrowing]) -> OrderSet:
    for made in narrowings.values():
        order_set = apply(order_set, made)
    return order_set


def _are_kept(prover: Prover, rules: Sequence[OrderRule], found: Sequence[Narrowing]) -> bool:
    """Whether no order breaks the rules, or leaves them unchecked, with these changes made."""
    changed = _changed(prover.space.order_set, {made.path: made for made in found})
    again = Prover(changed, rules, prover.limits)
    return all(again.decide(rule).result in KEPT for rule in rules)


def intersection(slot: Slot, one: Narrowing, other: Narrowing) -> Narrowing:
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
