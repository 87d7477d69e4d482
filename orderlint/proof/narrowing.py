"""For a broken rule: the smallest restriction of one slot with which the rule is proved.

A question for those who keep the set, never a value for a patient. Proved anew before it is given.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from orderlint.language.evaluate import evaluate
from orderlint.language.tree import And
from orderlint.proof.prover import Prover, Result
from orderlint.proof.search_space import dependency_closure, is_variable, leaves_of, paths_in

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

    from orderlint.language.tree import Tree
    from orderlint.order_set.model import OrderSet, Slot, Span
    from orderlint.proof.search_space import Picks
    from orderlint.rulebook.rule import OrderRule


@dataclass(frozen=True, slots=True)
class Narrowing:
    """A smaller choice at one slot, with which a rule is proved.

    `kept` are the indices of the options that stay. `span` is what stays of an unbounded blank,
    between ends that can be written in the first of its units.
    `share` is how much of what could stand there is kept.
    """

    path: str
    kept: tuple[int, ...]
    span: Span | None
    share: Fraction


def narrowings_of(prover: Prover, rule: OrderRule, witness: Picks) -> tuple[Narrowing, ...]:
    """Every slot at which one change would do, with its widest, the one that keeps most first.

    Of two that keep the same share, the earlier in the document comes first.
    """
    tree, own = _asked(prover, rule)
    found = []
    for slot in own.slots.values():
        if is_variable(slot):
            ways = _narrowed(prover, tree, own, slot, witness)
            found.extend([made for made in ways if _is_proved(prover, rule, made)][:1])
    return tuple(sorted(found, key=lambda made: -made.share))


def _asked(prover: Prover, rule: OrderRule) -> tuple[Tree, OrderSet]:
    """What a rule asks before signing, and the part of the set on which that depends."""
    tree = And(tuple(instance.condition for instance in prover.before_signing(rule)))
    return tree, dependency_closure(prover.space.order_set, paths_in(tree))


def meet(
    prover: Prover, rules: Sequence[OrderRule], narrowings: Iterable[Narrowing]
) -> tuple[Narrowing, ...]:
    """The narrowings taken together: at each slot what all of them keep there.

    Without those that the rest make needless, as a change to one slot may do for the rules of
    another; the one that takes away the most is left out first. Nothing where all these rules are
    not then kept by every order, or where nothing is kept.
    """
    slots = prover.space.order_set.slots
    joined: dict[str, Narrowing] = {}
    for made in narrowings:
        other = joined.get(made.path, made)
        joined[made.path] = _both(slots[made.path], other, made)
    if any(made.share < 0 or not (made.kept or made.span) for made in joined.values()):
        return ()
    if not _are_kept(prover, rules, joined.values()):
        return ()
    reads = [(rule, _asked(prover, rule)[1].slots) for rule in rules]
    for path in sorted(joined, key=lambda path: joined[path].share):
        rest = [made for made in joined.values() if made.path != path]
        bearing = [rule for rule, slots in reads if path in slots]
        if rest and _are_kept(prover, bearing, rest):
            del joined[path]
    return tuple(joined.values())


def _are_kept(prover: Prover, rules: Sequence[OrderRule], narrowings: Iterable[Narrowing]) -> bool:
    """Whether no order breaks the rules, or leaves them unchecked, with these changes made."""
    changed = prover.space.order_set
    for made in narrowings:
        changed = apply(changed, made)
    again = Prover(changed, rules, prover.limits)
    return all(again.decide(rule).result in _KEPT for rule in rules)


_KEPT = {Result.PROVED, Result.VACUOUS}


def _both(slot: Slot, one: Narrowing, other: Narrowing) -> Narrowing:
    """What two narrowings of one slot both keep."""
    if slot.span is None:
        kept = tuple(index for index in one.kept if index in other.kept)
        return Narrowing(slot.path, kept, None, Fraction(len(kept), len(slot.options)))
    # INVARIANT: of an unbounded blank a narrowing keeps every option and a part of the span.
    assert one.span is not None
    assert other.span is not None
    lowest = max(one.span.lowest, other.span.lowest)
    span = replace(slot.span, lowest=lowest, highest=min(one.span.highest, other.span.highest))
    return Narrowing(slot.path, one.kept, span, Fraction(_width(span), _width(slot.span)))


def apply(order_set: OrderSet, narrowing: Narrowing) -> OrderSet:
    """The set with that change made."""
    slot = order_set.slots[narrowing.path]
    options = tuple(slot.options[index] for index in narrowing.kept)
    preset = None if slot.preset is None else narrowing.kept.index(slot.preset)
    changed = replace(slot, options=options, preset=preset, span=narrowing.span)
    return replace(order_set, slots={**order_set.slots, slot.path: changed})


def _is_proved(prover: Prover, rule: OrderRule, narrowing: Narrowing) -> bool:
    """By solver and enumeration, on the whole set as it would then be."""
    changed = apply(prover.space.order_set, narrowing)
    return Prover(changed, [rule], prover.limits).decide(rule).result is Result.PROVED


def _narrowed(
    prover: Prover, tree: Tree, own: OrderSet, slot: Slot, witness: Picks
) -> list[Narrowing]:
    """What may stay at this slot, the widest first; nothing if that was not settled.

    There may be several where there is no preset: one of them may leave nothing to prove.
    """
    from orderlint.proof.solver.failing_options import FailingOptions  # noqa: PLC0415 - z3 is slow to import

    def is_bad(picks: Picks) -> bool:
        return evaluate(tree, leaves_of(own, picks)) is not True

    if slot.preset is not None and is_bad(_with(witness, slot.path, slot.preset)):
        return []
    failing = FailingOptions(prover.search, tree)
    with failing.holding():
        bad = failing.options(slot, is_bad, witness)
        if bad is None:
            return []
        if slot.span is not None:
            writable = _writable(slot.span)
            ends = None if bad or _width(writable) < 0 else failing.ends(slot, writable, is_bad)
            return _bounded(slot, slot.span, ends) if ends else []
    size = len(slot.options)
    runs = _kept(slot, [index for index in range(size) if index not in bad])
    return [Narrowing(slot.path, run, None, Fraction(len(run), size)) for run in runs if run]


def _with(picks: Picks, path: str, index: int) -> Picks:
    return replace(picks, chosen={**picks.chosen, path: index})


def _kept(slot: Slot, good: list[int]) -> list[tuple[int, ...]]:
    """All that is good of choices in no order; else the run around the preset, or every run."""
    if slot.preset is not None and slot.preset not in good:
        return []
    if any(isinstance(leaf.value, str) for leaf in slot.options):
        return [tuple(good)]
    held = [run for run in _runs(good) if slot.preset is None or slot.preset in run]
    return sorted(held, key=lambda run: -len(run))


def _runs(indices: Collection[int]) -> Iterator[tuple[int, ...]]:
    """Indices in a row."""
    for _, group in itertools.groupby(enumerate(indices), key=lambda pair: pair[1] - pair[0]):
        yield tuple(index for _, index in group)


def _bounded(slot: Slot, span: Span, bad: tuple[int, int]) -> list[Narrowing]:
    """The span below the least value that is bad, and above the greatest; the wider first."""
    sides = replace(span, highest=bad[0] - 1), replace(span, lowest=bad[1] + 1)
    ways = [_writable(side) for side in sides]
    every = tuple(range(len(slot.options)))
    return [
        Narrowing(slot.path, every, way, Fraction(_width(way), _width(span)))
        for way in sorted(ways, key=lambda way: -_width(way))
        if _width(way) >= 0
    ]


def _writable(span: Span) -> Span:
    """The span between ends that can be written in the first of its units.

    As they are said in that unit, so that what is proved is what is said.
    """
    grid = next(iter(span.grids.values()))
    lowest, highest = -(-span.lowest // grid) * grid, span.highest // grid * grid
    return replace(span, lowest=lowest, highest=highest)


def _width(span: Span) -> int:
    return span.highest - span.lowest
