"""Splits the values of a slot into cells in which every atom that reads only it is constant.

Options by evaluation, and the values of an unbounded blank by arithmetic of whole numbers:
thresholds, multiples and units. What cannot be split so is given up. Never a solver.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left, bisect_right
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
from orderlint.proof.search_space import SlotChoice, TooLarge, leaf_in_range

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Iterator, Sequence

    from orderlint.language.tree import Atom
    from orderlint.order import Leaf
    from orderlint.order_set.model import Slot


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


LISTED = 256
"""The most values of a cell that are listed one by one."""
STEPS = 4_096
"""The most steps from an end of a cell to the nearest value with the right multiples."""


def _span_cells(slot: Slot, unary: Sequence[Atom], cuts: Sequence[int]) -> Iterator[Cell]:
    """The cells of an unbounded blank, if it is one; for each unit, as it can be asked about.

    No cell goes across one of `cuts`: it begins there, or ends below.
    """
    steps = [atom.step for atom in unary if isinstance(atom, Multiple)]
    compares = [atom for atom in unary if isinstance(atom, Compare)]
    for unit, grid in slot.span.grids.items() if slot.span is not None else ():
        assert slot.span is not None
        first, last = -(-slot.span.lowest // grid), slot.span.highest // grid
        among = (-(-cut // grid) for cut in cuts)
        turns = {*_turns(compares, range(first, last + 1), grid), *among}
        starts = sorted({first, *(turn for turn in turns if first <= turn <= last)})
        for start, after in itertools.pairwise([*starts, last + 1]):
            for low, high, every in _with_multiples(steps, grid, range(start, after)):
                counts = (low, high, *(every or ()))
                ends = [leaf_in_range(slot.path, n * grid, unit) for n in counts]
                yield Cell(ends[0], ends[1], None if every is None else tuple(ends[2:]))


def _turns(compares: Sequence[Compare], counts: range, grid: int) -> Iterator[int]:
    """The counts at which the sum of some comparison reaches its bound, or passes it."""
    for compare in compares:
        sign = _direction(compare, counts.start < 0)
        for find in (bisect_left, bisect_right):
            at = find(counts, sign * compare.bound, key=lambda n: sign * _total(compare, n * grid))
            if at < len(counts):
                yield counts[at]


def _direction(compare: Compare, below_zero: bool) -> int:
    """1 where the sum grows with the value, -1 where it falls."""
    linear = all(len(term.paths) == 1 for term in compare.terms)
    if linear:
        return 1 if sum(term.coefficient for term in compare.terms) >= 0 else -1
    signs = {term.coefficient > 0 for term in compare.terms if term.coefficient}
    if below_zero or len(signs) > 1:
        raise TooLarge("a comparison turns more than once within an unbounded blank")
    return -1 if signs == {False} else 1


def _total(compare: Compare, value: int) -> int:
    return sum(term.coefficient * value ** len(term.paths) for term in compare.terms)


def _with_multiples(
    steps: Sequence[int], grid: int, counts: range
) -> Iterator[tuple[int, int, tuple[int, ...] | None]]:
    """For each way in which the values can be multiples: first, last and all such counts."""
    periods = sorted({step // math.gcd(step, grid) for step in steps})
    for ways in itertools.product((True, False), repeat=len(periods)):
        of = [period for period, is_one in zip(periods, ways, strict=True) if is_one]
        not_of = [period for period, is_one in zip(periods, ways, strict=True) if not is_one]
        whole = math.lcm(*of)
        if any(whole % period == 0 for period in not_of):
            continue
        first = -(-counts.start // whole) * whole
        among = range(first, counts.stop, whole)
        low, high = _first(among, not_of), _first(among[::-1], not_of)
        if low is not None and high is not None:
            every = None if len(among) > LISTED else tuple(_avoiding(among, not_of))
            yield low, high, every


def _avoiding(among: range, not_of: Sequence[int]) -> Iterator[int]:
    return (count for count in among if all(count % period for period in not_of))


def _first(among: range, not_of: Sequence[int]) -> int | None:
    found = next(_avoiding(among[:STEPS], not_of), None)
    if found is None and len(among) > STEPS:
        raise TooLarge("too many multiples meet within an unbounded blank")
    return found
