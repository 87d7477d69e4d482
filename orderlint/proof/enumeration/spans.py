"""The values of an unbounded blank, split by arithmetic: thresholds, multiples and units.

Whole numbers only; what cannot be split so is given up.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

from orderlint.language.tree import Compare, Multiple
from orderlint.proof.search_space import TooLarge, leaf_in_range

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.language.tree import Atom
    from orderlint.order import Leaf
    from orderlint.order_set.model import Span

LISTED = 256
"""The most values of a cell that are listed one by one."""
STEPS = 4_096
"""The most steps from an end of a cell to the nearest value with the right multiples."""

Ends = tuple["Leaf", "Leaf", "tuple[Leaf, ...] | None"]


def span_cells(
    path: str, span: Span, unary: Sequence[Atom], cuts: Sequence[int] = ()
) -> Iterator[Ends]:
    """Lowest, highest and every value of each cell; for each unit, as it can be asked about.

    No cell goes across one of `cuts`: it begins there, or ends below.
    """
    steps = [atom.step for atom in unary if isinstance(atom, Multiple)]
    compares = [atom for atom in unary if isinstance(atom, Compare)]
    for unit, grid in span.grids.items():
        first, last = -(-span.lowest // grid), span.highest // grid
        among = (-(-cut // grid) for cut in cuts)
        turns = {*_turns(compares, range(first, last + 1), grid), *among}
        starts = sorted({first, *(turn for turn in turns if first <= turn <= last)})
        for start, after in itertools.pairwise([*starts, last + 1]):
            for counts in _with_multiples(steps, grid, range(start, after)):
                low, high = (leaf_in_range(path, n * grid, unit) for n in counts[:2])
                yield low, high, _listed(path, counts[2], grid, unit)


def _listed(
    path: str, counts: tuple[int, ...] | None, grid: int, unit: str
) -> tuple[Leaf, ...] | None:
    return None if counts is None else tuple(leaf_in_range(path, n * grid, unit) for n in counts)


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
