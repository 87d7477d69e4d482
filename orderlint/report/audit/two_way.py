"""Hides counts of a two-way table until nothing small can be computed from what is shown.

Orders of known groups fall into months, like a flow from groups to months: a count can be another
exactly where one order can go round through it and every other count stays within what is known of
it (a circulation within whole bounds; textbooks of network flow). Never a word.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.report.audit.hiding import Bounds, Key

_Graph: TypeAlias = "dict[str, set[str]]"
"""From each node the nodes to which one more order can go."""

NO_LIMIT = 1 << 62
_ALL_MONTHS = ""
"""The node in which the orders of all months come together."""
_TRIED = 12
"""Counts that are tried, one by one, before the first of them is hidden untried."""


def hidden_cells(
    cells: Mapping[Key, int], months: Mapping[str, Bounds], min_cell: int
) -> frozenset[Key] | None:
    """Which cells, each by its group and month, are to be hidden; None if that is not enough.

    `months` says between what a reader knows the orders of each month to be, those of each group
    being known. A month of which more is known than that, but for the cells, is nobody's secret.
    """
    return _TwoWay(cells, months, min_cell).hidden()


class _TwoWay:
    def __init__(
        self, cells: Mapping[Key, int], months: Mapping[str, Bounds], min_cell: int
    ) -> None:
        self.cells, self.months, self.min_cell = cells, months, min_cell
        self.sums: dict[str, int] = defaultdict(int)
        for (_, month), count in cells.items():
            self.sums[month] += count

    def hidden(self) -> frozenset[Key] | None:
        hidden = frozenset(key for key, count in self.cells.items() if 0 < count < self.min_cell)
        secrets = [*self.secrets(hidden)]
        for secret in secrets * 2:  # what hides one may let another be known no more
            hidden = self.covered(secret, hidden)
        graph = self.graph(hidden)
        return hidden if all(_can_change(graph, *secret) for secret in secrets) else None

    def secrets(self, small: frozenset[Key]) -> Iterator[Key]:
        """The months that could be another without the table, and every small cell."""
        graph = self.graph(frozenset(self.cells), (0, NO_LIMIT))
        for month in self.months:
            if _can_change(graph, month, _ALL_MONTHS):
                yield month, _ALL_MONTHS
        yield from sorted(small)

    def covered(self, secret: Key, hidden: frozenset[Key]) -> frozenset[Key]:
        """With as few cells hidden besides as leave a secret open; as it is where none do."""
        more = hidden
        while self.is_known(secret, more):
            left = sorted(self.cells.keys() - more, key=lambda key: self.rank(secret, key))
            if not left:
                return hidden
            helps = (key for key in left[:_TRIED] if not self.is_known(secret, more | {key}))
            more |= {next(helps, left[0])}
        for cover in sorted(more - hidden, key=lambda key: self.rank(secret, key), reverse=True):
            if not self.is_known(secret, more - {cover}):
                more -= {cover}
        return more

    def rank(self, secret: Key, key: Key) -> tuple[bool, int, Key]:
        """Those of the secret's own group or month first, then small counts."""
        return set(secret).isdisjoint(key), self.cells[key], key

    def is_known(self, secret: Key, hidden: frozenset[Key]) -> bool:
        return not _can_change(self.graph(hidden), *secret)

    def graph(self, hidden: frozenset[Key], bounds: Bounds | None = None) -> _Graph:
        """Where one order more can go, if these cells are hidden and all is as it is counted."""
        graph: _Graph = defaultdict(set)
        for key in hidden:
            count = self.cells[key]
            _join(graph, key, count, bounds or self.bounds_of(count))
        for month, known in self.months.items():
            _join(graph, (month, _ALL_MONTHS), self.sums[month], known)
        return graph

    def bounds_of(self, count: int) -> Bounds:
        """A hidden count is said to be below the least that is shown, or is not."""
        return (0, self.min_cell - 1) if count < self.min_cell else (self.min_cell, NO_LIMIT)


def _join(graph: _Graph, ends: Key, count: int, bounds: Bounds) -> None:
    start, end = ends
    if count < bounds[1]:
        graph[start].add(end)
    if count > bounds[0]:
        graph[end].add(start)


def _can_change(graph: _Graph, start: str, end: str) -> bool:
    """Whether the count from one node to the other can be one more or one less."""
    return (end in graph[start] and _leads(graph, end, start)) or (
        start in graph[end] and _leads(graph, start, end)
    )


def _leads(graph: _Graph, start: str, end: str) -> bool:
    """Whether one order can go from one node to another, but not by the straight way."""
    seen, left = {start}, [*(graph[start] - {end})]
    while left:
        node = left.pop()
        if node == end:
            return True
        if node not in seen:
            seen.add(node)
            left += graph[node]
    return False
