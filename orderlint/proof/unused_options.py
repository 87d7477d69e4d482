"""Finds options that no sound order uses and sections that are never shown, and says whether any
order is sound.

An order is sound if no do-not-start rule is broken or unknown on it; rules that are judged at
signing are left out. Never a verdict on a rule.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.finding import Level
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import And, Not, Tree, paths_in
from orderlint.proof.enumeration.monotone import minimum_value
from orderlint.proof.enumeration.partition import Domains
from orderlint.proof.prover import Prover
from orderlint.proof.search_space import (
    Disagreement,
    Limits,
    TooLarge,
    dependency_closure,
    is_shown,
    is_variable,
    leaves_of,
    space_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet
    from orderlint.proof.search_space import Picks
    from orderlint.proof.solver.sound_orders import SoundOrders
    from orderlint.rulebook.rule import OrderRule


@dataclass(frozen=True, slots=True)
class NeverSound:
    """An option that no sound order uses, and some rules that together make it so.

    `is_confirmed` is whether enumeration said the same: it may have been given up.
    """

    path: str
    index: int
    leaf: Leaf
    rules: tuple[str, ...]
    is_confirmed: bool


@dataclass(frozen=True, slots=True)
class Choices:
    """What became of every option.

    `sound` picks a sound order; None where there is none, because of `rules_against`, or where
    the solver did not know (`sound_is_open`). `open` are the options, by path and index, that were
    not settled. No order shows a gate's path in `never_shown`; those in `shown_is_open` were not
    settled.
    """

    sound: Picks | None
    sound_is_open: bool
    rules_against: tuple[str, ...]
    never_sound: tuple[NeverSound, ...]
    open: tuple[tuple[str, int], ...]
    never_shown: tuple[str, ...]
    shown_is_open: tuple[str, ...]


class Soundness:
    """What the do-not-start rules say of orders of one set."""

    def __init__(self, prover: Prover, rules: Iterable[OrderRule]) -> None:
        self.order_set = prover.space.order_set
        self.trees: dict[str, list[Tree]] = {}
        self.readers: dict[str, list[tuple[str, Tree]]] = {
            path: [] for path in self.order_set.slots
        }
        for rule in rules:
            if rule.level is Level.DO_NOT_START:
                for instance in prover.before_signing(rule):
                    self._add(rule.id, instance.condition)
        self.around = {path: self._around(path) for path in self.order_set.slots}

    def _add(self, rule: str, tree: Tree) -> None:
        self.trees.setdefault(rule, []).append(tree)
        for path in dependency_closure(self.order_set, paths_in(tree)).slots:
            self.readers[path].append((rule, tree))

    def all_of(self, rules: Iterable[str]) -> Tree:
        """That each of some rules is kept."""
        return And(tuple(tree for rule in rules for tree in self.trees[rule]))

    def _around(self, path: str) -> OrderSet:
        """The slots that say whether a change at one slot leaves an order sound."""
        read = [p for _, tree in self.readers[path] for p in paths_in(tree)]
        return dependency_closure(self.order_set, [path, *read])

    def is_sound(self, picks: Picks) -> bool:
        """Whether every do-not-start rule is kept on an order."""
        return evaluate(self.all_of(self.trees), leaves_of(self.order_set, picks)) is True

    def broken(self, path: str, picks: Picks) -> tuple[str, ...]:
        """The rules that a sound order breaks, or leaves open, once one slot is changed."""
        leaves = leaves_of(self.around[path], picks)
        found = (rule for rule, tree in self.readers[path] if evaluate(tree, leaves) is not True)
        return tuple(dict.fromkeys(found))

    def uses(self, path: str, picks: Picks) -> bool:
        """Whether an order that is sound but for what stands at a slot is so, and shows it."""
        own = self.around[path]
        leaves = leaves_of(own, picks)
        return is_shown(own, path, picks, leaves) and all(
            evaluate(tree, leaves) is True for _, tree in self.readers[path]
        )


def choices_of(prover: Prover, rules: Sequence[OrderRule]) -> Choices:
    """What becomes of every option, section and gate, within `limits.choices_effort`."""
    soundness = Soundness(prover, rules)
    never_shown, shown_is_open = _sections(prover)
    base = prover.space.base
    known = [base] if soundness.is_sound(base) else []
    from orderlint.proof.solver.sound_orders import SoundOrders  # noqa: PLC0415 - z3 is slow to import

    sound_orders = SoundOrders(prover.search, soundness.trees)
    with sound_orders.holding():
        found = "yes" if known else sound_orders.sound(known)
        if known and not soundness.is_sound(known[0]):
            raise Disagreement("a sound order", "it is sound", "and by its meaning it is not")
        if not known:
            against = sound_orders.because([]) if found == "no" else ()
            is_open = found == "open" or not _confirm(prover, soundness.all_of(against))
            return Choices(None, is_open, against, (), (), never_shown, shown_is_open)
        most = prover.search.spent + prover.limits.choices_effort
        never, open_ = _options(prover, soundness, sound_orders, known, most)
    return Choices(known[0], False, (), never, open_, never_shown, shown_is_open)


def _options(
    prover: Prover,
    soundness: Soundness,
    sound_orders: SoundOrders,
    known: list[Picks],
    most: int,
) -> tuple[tuple[NeverSound, ...], tuple[tuple[str, int], ...]]:
    never: list[NeverSound] = []
    open_: list[tuple[str, int]] = []
    for path, slot in prover.space.order_set.slots.items():
        if slot.signed or not is_variable(slot) or path in prover.evaluator.hidden:
            continue
        reached = sound_orders.options(slot, functools.partial(soundness.uses, path), known, most)
        open_.extend((path, index) for index in sorted(reached.open))
        groups: dict[tuple[str, ...], list[int]] = {}
        for index in sorted(reached.never):
            changed = replace(known[0], chosen={**known[0].chosen, path: index})
            groups.setdefault(soundness.broken(path, changed), []).append(index)
        for group in groups.values():
            against = sound_orders.because(group, slot)
            confirmed = _confirm(prover, soundness.all_of(against), path, group)
            never.extend(
                NeverSound(path, index, slot.options[index], against, confirmed) for index in group
            )
    return tuple(never), tuple(open_)


def _confirm(prover: Prover, kept: Tree, path: str = "", group: Sequence[int] = ()) -> bool:
    """Whether enumeration also says that no order keeps these rules. Raises Disagreement.

    With a path, that none does with one of these options there: the set is left with those options
    alone, and with no section that could leave the slot out.
    """
    order_set = prover.space.order_set
    if path:
        slot = order_set.slots[path]
        alone = replace(slot, options=tuple(slot.options[i] for i in group), preset=None, span=None)
        kept = And((kept, *(gate.tree for gate in order_set.gates_over(path))))
        order_set = _taken(replace(order_set, slots={**order_set.slots, path: alone}), path)
    can_be = _can_be(order_set, kept, prover.limits)
    if can_be:
        if path:
            raise Disagreement(path, "that no sound order uses it", "enumeration that one does")
        raise Disagreement("a sound order", "that there is none", "enumeration that there is")
    return can_be is False


def _taken(order_set: OrderSet, path: str) -> OrderSet:
    """The set with every section taken that a path lies in."""
    taken = order_set.sections_over(path)
    left = {p: each for p, each in order_set.offered_sections.items() if p not in taken}
    return replace(order_set, offered_sections=left)


def _can_be(order_set: OrderSet, tree: Tree, limits: Limits) -> bool | None:
    """Whether enumeration finds an order on which a condition is true; None if given up."""
    try:
        return minimum_value(space_of(order_set), Not(tree), Domains(), limits).lowest is False
    except TooLarge:
        return None


def _sections(prover: Prover) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The gates' paths that no order shows, and those that were not settled."""
    order_set = prover.space.order_set
    never, open_ = [], []
    for path in dict.fromkeys(gate.path for gate in order_set.gates):
        changed = _taken(order_set, path)
        readers = tuple(gate.tree for gate in changed.gates_over(path))
        can_be = _can_be(changed, And(readers), prover.limits)
        if can_be:
            continue
        asked = Prover(changed, (), prover.limits).find(And(readers), "true")
        if asked and asked.picks and can_be is False:
            raise Disagreement(path, "that it can be shown", "enumeration that it never is")
        if can_be is False and asked is None:
            never.append(path)
        elif not (asked and asked.picks):
            open_.append(path)
    return tuple(never), tuple(open_)
