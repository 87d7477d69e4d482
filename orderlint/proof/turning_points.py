"""The values of one number at which a comparison with what else may stand in an order can turn.

For what is asked of ranges of values: each range is proved by itself. Never a verdict.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

from orderlint.language.tree import Atom, Compare, Multiple, Tree, atoms, paths_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.order_set.model import OrderSet, Slot

MOST_TURNS = 128
"""The most values that are looked at; beyond that none is."""
MOST_WAYS = 1_000
"""The most ways to pick the other numbers of a comparison; beyond that their ends are taken."""


def turning_points(
    order_set: OrderSet, tree: Tree, path: str, low: int, high: int
) -> Sequence[int]:
    """The values above `low` and up to `high` at which some atom, or a gate's, is another than
    below it; none where they are too many. In ascending order."""
    trees = (tree, *(gate.tree for gate in order_set.gates))
    found = [atom for each in trees for atom in atoms(each) if path in paths_of(atom)]
    slot = order_set.slots[path]
    compared = [atom for atom in found if isinstance(atom, Compare)]
    turns = {
        point for atom in compared for point in turns_of(atom, path, _others(order_set, atom, path))
    }
    for step in _periods(slot, found):
        first, last = low // step, high // step + 1
        if last - first > MOST_TURNS:
            continue
        turns |= {n * step + extra for n in range(first, last + 1) for extra in (0, 1)}
    within = sorted(point for point in turns if low < point <= high)
    return within if len(within) <= MOST_TURNS else ()


def _periods(slot: Slot, found: Iterable[Atom]) -> set[int]:
    """The steps at whose multiples the value is another to some atom, or is in another unit."""
    grids = set(slot.span.grids.values()) if slot.span is not None else set()
    return {atom.step for atom in found if isinstance(atom, Multiple)} | (
        grids if len(grids) > 1 else set()
    )


def _others(order_set: OrderSet, atom: Compare, path: str) -> Mapping[str, Sequence[int]]:
    """What the other numbers of a comparison may be; their ends where the ways are too many."""
    others = dict.fromkeys(p for p in paths_of(atom) if p != path)
    values = {other: _values(order_set.slots[other]) for other in others}
    if math.prod(map(len, values.values())) > MOST_WAYS:
        return {other: [*each[:1], *each[1:][-1:]] for other, each in values.items()}
    return values


def turns_of(atom: Compare, path: str, values: Mapping[str, Sequence[int]]) -> Iterator[int]:
    """The numbers at `path` at which the sum of a comparison reaches its bound or passes it.

    For each way to pick the other numbers from `values`. Where it stands in a term twice, its turns
    are elsewhere.
    """
    others = [p for p in dict.fromkeys(paths_of(atom)) if p != path]
    for picked in itertools.product(*(values[other] for other in others)):
        slope, rest = _line(atom, path, dict(zip(others, picked, strict=True)))
        if slope:
            yield -((rest - atom.bound) // slope)
            yield (atom.bound - rest) // slope + 1


def _line(atom: Compare, path: str, at: dict[str, int]) -> tuple[int, int]:
    """What the sum grows by with the number, and what else it has. A square turns elsewhere."""
    slope, rest = 0, 0
    for term in atom.terms:
        beside = math.prod(at[other] for other in term.paths if other != path)
        times = term.paths.count(path)
        if times == 1:
            slope += term.coefficient * beside
        elif times == 0:
            rest += term.coefficient * beside
    return slope, rest


def _values(slot: Slot) -> list[int]:
    """The numbers that may stand at a slot; of a blank without bounds the ends."""
    listed = {leaf.value for leaf in slot.options if isinstance(leaf.value, int)}
    ends = (slot.span.lowest, slot.span.highest) if slot.span is not None else ()
    return sorted(listed.union(ends))
