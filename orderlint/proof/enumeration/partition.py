"""Splits the values of a slot into cells in which every atom that reads only it is constant.

By evaluation and whole numbers. Never a solver.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.language.evaluate import evaluate
from orderlint.language.tree import (
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    OneKind,
    Same,
    Subject,
    Written,
    paths_of,
)
from orderlint.proof.enumeration.spans import span_cells

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Sequence

    from orderlint.language.tree import Atom
    from orderlint.order import Leaf
    from orderlint.order_set.model import Slot
    from orderlint.proof.search_space import SlotChoice


@dataclass(frozen=True, slots=True)
class Cell:
    """Some of what may stand at a slot: the ends by value, and every one.

    `every` is None where there are too many to list. The ends of what has no value are any.
    """

    low: SlotChoice
    high: SlotChoice
    every: tuple[SlotChoice, ...] | None

    def one_for_all(self) -> Cell:
        """The same, where no condition tells apart what cannot be listed."""
        return self if self.every is not None else replace(self, every=(self.low,))


def is_unary(atom: Atom) -> bool:
    """Whether an atom reads no more than one leaf."""
    return len(set(paths_of(atom))) <= 1


class Domains:
    """The cells of each slot, kept for the next condition that splits it the same way."""

    def __init__(self) -> None:
        self._truths: dict[tuple[str, Atom], tuple[bool | None, ...]] = {}
        self._cells: dict[tuple[Hashable, ...], tuple[Cell, ...]] = {}

    def cells(
        self, slot: Slot, found: Iterable[Atom], cuts: tuple[int, ...] = ()
    ) -> tuple[Cell, ...]:
        """The slot split by the atoms among these that read it; its span also at these values."""
        own = tuple(dict.fromkeys(atom for atom in found if slot.path in paths_of(atom)))
        unary = tuple(atom for atom in own if is_unary(atom))
        subjects = tuple(side for atom in own for side in _subjects(atom) if side.path == slot.path)
        key = (slot.path, unary, subjects, cuts)
        if key not in self._cells:
            self._cells[key] = (
                *self._listed(slot, unary, subjects),
                *_span_cells(slot, unary, cuts),
            )
        return self._cells[key]

    def truths(self, slot: Slot, atom: Atom) -> tuple[bool | None, ...]:
        """What an atom that reads this slot alone is at each of its options."""
        key = (slot.path, atom)
        if key not in self._truths:
            met: dict[Hashable, bool | None] = {}
            for leaf in slot.options:
                seen = seen_by(atom, leaf)
                if seen not in met:
                    met[seen] = evaluate(atom, {slot.path: leaf})
            self._truths[key] = tuple(met[seen_by(atom, leaf)] for leaf in slot.options)
        return self._truths[key]

    def _listed(self, slot: Slot, unary: Sequence[Atom], subjects: Sequence[Subject]) -> list[Cell]:
        columns = [self.truths(slot, atom) for atom in unary]
        groups: dict[Hashable, list[int]] = {}
        for index, leaf in enumerate(slot.options):
            chosen = tuple(leaf.unit if side.is_unit else leaf.value for side in subjects)
            truths = tuple(column[index] for column in columns)
            state = (leaf.state, type(leaf.value))
            groups.setdefault((state, truths, chosen), []).append(index)
        return [_cell(slot, group) for group in groups.values()]


def _subjects(atom: Atom) -> tuple[Subject, ...]:
    """What an atom reads of several leaves beside their numbers, and a cell has one of."""
    match atom:
        case Same(left, right):
            return left, right
        case Compare(one_kind=OneKind(paths)):
            return tuple(Subject(path, is_unit=True) for path in paths)
        case _:
            return ()


def _cell(slot: Slot, group: list[int]) -> Cell:
    def value(index: int) -> int:
        found = slot.options[index].value
        return found if isinstance(found, int) else 0

    return Cell(min(group, key=value), max(group, key=value), tuple(group))


def _span_cells(slot: Slot, unary: Sequence[Atom], cuts: Sequence[int]) -> list[Cell]:
    if slot.span is None:
        return []
    return [Cell(*ends) for ends in span_cells(slot.path, slot.span, unary, cuts)]


def seen_by(atom: Atom, leaf: Leaf) -> Hashable:
    """What an atom reads of a leaf: it has the same value on leaves with the same key."""
    match atom:
        case Given():
            return leaf.state
        case Written():
            return leaf.state, leaf.flags
        case Names():
            return leaf.text, leaf.to_be_written
        case Compare(one_kind=OneKind()):
            return leaf.value, leaf.unit
        case Compare() | Multiple():
            return leaf.value
        case Member(subject):
            return leaf.state, leaf.unit if subject.is_unit else leaf.value
        case Same():
            return leaf.state, leaf.value, leaf.unit
