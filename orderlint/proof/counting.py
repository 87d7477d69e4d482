"""How many different orders a set can yield, exactly, without writing them down.

Two orders are the same where every leaf has the same state, value, unit and text.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.tree import Atom, Compare, atoms, paths_in, paths_of
from orderlint.order import SIGNING_FIELDS
from orderlint.order_set.model import OrderSet, Slot, within
from orderlint.proof.enumeration.partition import Domains, is_unary
from orderlint.proof.search_space import (
    Picks,
    TooLarge,
    is_shown,
    leaf_at,
    leaves_of,
    presets,
    space_of,
)
from orderlint.proof.set_membership import TEXTS

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence

    from orderlint.proof.search_space import SlotChoice

MOST = 50_000
"""The most ways to decide what is shown that are tried, for slots that depend on each other."""
OVERLAPPING = 12
"""The most overlapping ways to show some slots that are counted once between them."""


@dataclass(frozen=True, slots=True)
class Count:
    """How many orders. Where it is not exact there are no more than that.

    `left_out` are the unbounded blanks and those for words, whose contents are not counted, and
    the facts of signing that the set does not mention, which are not counted at all.
    """

    orders: int
    is_exact: bool
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Class:
    """Choices at a slot that no gate tells apart: one of them, and how many differ in writing."""

    choice: SlotChoice
    weight: int


def count(order_set: OrderSet) -> Count:
    """How many different orders the set can yield."""
    whole = space_of(order_set).order_set
    of_signing = {path for path, slot in whole.slots.items() if _is_left_to_signing(slot)}
    left_out = tuple(p for p, slot in whole.slots.items() if p in of_signing or _is_open(slot))
    slots = {path: slot for path, slot in whole.slots.items() if path not in of_signing}
    total, is_exact = 1, True
    for group in _groups(replace(whole, slots=slots)):
        try:
            total *= _orders(group)
        except TooLarge:
            total, is_exact = total * _bound(group), False
    return Count(total, is_exact, left_out)


def _is_open(slot: Slot) -> bool:
    """Whether anything can be written in a blank, so that what is written is not counted."""
    field = field_table().fields.get(slot.path)
    return bool(slot.span or (slot.blank and field is not None and field.kind in TEXTS))


def _is_left_to_signing(slot: Slot) -> bool:
    """Whether a set says nothing of a fact of signing: then it does not tell its orders apart.

    INVARIANT: no gate reads one, and no section holds one.
    """
    return slot.blank and slot.path in SIGNING_FIELDS and slot.place is None


def _groups(order_set: OrderSet) -> Iterator[OrderSet]:
    """The set in pieces of which no gate or section joins two."""
    joined = {path: {path} for path in order_set.slots}
    below = {
        section: {path for path in order_set.slots if within(path, section)}
        for section in (*order_set.offered_sections, *(gate.path for gate in order_set.gates))
    }
    ties = [below[gate.path].union(paths_in(gate.tree)) for gate in order_set.gates]
    ties += [below[section] for section in order_set.offered_sections]
    for tie in ties:
        merged = set[str]().union(*(joined[path] for path in tie))
        joined.update(dict.fromkeys(merged, merged))
    for paths in {id(group): group for group in joined.values()}.values():
        slots = {path: slot for path, slot in order_set.slots.items() if path in paths}
        gates = tuple(gate for gate in order_set.gates if below[gate.path] & paths)
        offered = order_set.offered_sections
        sections = {path: section for path, section in offered.items() if below[path] & paths}
        yield replace(order_set, slots=slots, offered_sections=sections, gates=gates)


def _orders(group: OrderSet) -> int:
    """The different orders of one piece: for each way its gates can see it, what is then free."""
    found = [atom for gate in group.gates for atom in atoms(gate.tree)]
    read = paths_in(*found)
    classes = {path: _classes(group.slots[path], found) for path in group.slots if path in read}
    ways = math.prod(len(each) for each in classes.values()) * 2 ** len(group.offered_sections)
    if ways > MOST:
        raise TooLarge("too many ways to decide what is shown")
    free = [slot for path, slot in group.slots.items() if path not in read]
    shown: dict[Hashable, set[frozenset[str]]] = defaultdict(set)
    weights: dict[Hashable, int] = {}
    for picked, picks in _ways(group, classes):
        leaves = leaves_of(group, picks)
        kept = {p: n for p, n in picked.items() if leaves[p].given and not group.slots[p].span}
        key = tuple(kept.items())
        weights[key] = math.prod(classes[path][number].weight for path, number in kept.items())
        shown[key].add(frozenset(s.path for s in free if is_shown(group, s.path, picks, leaves)))
    return sum(weights[key] * _union(free, patterns) for key, patterns in shown.items())


def _ways(
    group: OrderSet, classes: Mapping[str, Sequence[_Class]]
) -> Iterator[tuple[dict[str, int], Picks]]:
    base = presets(group)
    for taken in itertools.product((False, True), repeat=len(group.offered_sections)):
        sections_on = dict(zip(group.offered_sections, taken, strict=True))
        for numbers in itertools.product(*(range(len(each)) for each in classes.values())):
            picked = dict(zip(classes, numbers, strict=True))
            chosen = {path: classes[path][number].choice for path, number in picked.items()}
            yield picked, Picks({**base.chosen, **chosen}, sections_on)


def _classes(slot: Slot, found: Sequence[Atom]) -> tuple[_Class, ...]:
    """The choices at a slot as the gates see them."""
    compared = [a for a in found if isinstance(a, Compare) and slot.path in paths_of(a)]
    cells = Domains().cells(slot, found)
    if all(is_unary(atom) for atom in compared):
        return tuple(_Class(cell.low, _different(slot, cell.every or ())) for cell in cells)
    made: list[_Class] = []
    for cell in cells:
        if cell.every is None:
            raise TooLarge(f"{slot.path} has too many values to count")
        by_value: dict[object, list[SlotChoice]] = defaultdict(list)
        for choice in cell.every:
            by_value[leaf_at(slot, choice).value].append(choice)
        made.extend(_Class(each[0], _different(slot, each)) for each in by_value.values())
    return tuple(made)


def _different(slot: Slot, choices: Iterable[SlotChoice]) -> int:
    """How many of these are written differently; an unbounded blank is not counted."""
    leaves = (leaf_at(slot, choice) for choice in choices)
    written = {(leaf.state, leaf.value, leaf.unit, leaf.text) for leaf in leaves}
    return 1 if slot.span else len(written)


def _union(free: Sequence[Slot], patterns: set[frozenset[str]]) -> int:
    """The orders of slots that no gate reads, where each pattern is a way to show some of them."""
    can_be_absent = {
        slot.path for slot in free if slot.span or not all(leaf.given for leaf in slot.options)
    }
    by_strict: dict[frozenset[str], list[frozenset[str]]] = defaultdict(list)
    for pattern in patterns:  # what is never blank is there where it is shown and only there
        by_strict[pattern - can_be_absent].append(pattern)
    return sum(_overlapping(free, group) for group in by_strict.values())


def _overlapping(free: Sequence[Slot], patterns: Sequence[frozenset[str]]) -> int:
    """Ways that differ only in what can be blank as well: by inclusion and exclusion."""
    widest = [each for each in patterns if not any(each < other for other in patterns)]
    if len(widest) > OVERLAPPING:
        raise TooLarge("too many ways to show the same slots")
    total = 0
    for size in range(1, len(widest) + 1):
        for some in itertools.combinations(widest, size):
            shared = frozenset.intersection(*some)
            total += (-1) ** (size + 1) * math.prod(
                _different(slot, range(len(slot.options))) for slot in free if slot.path in shared
            )
    return total


def _bound(group: OrderSet) -> int:
    """No fewer than there are: each slot by itself, shown or not."""
    return math.prod(
        _different(slot, range(len(slot.options))) + 1 for slot in group.slots.values()
    )
