"""The orders that the rule which stops most stops, by group and month, as they may be shown.

By month of the groups with most of them, and of all others together. Never a word of a report.

Cells are hidden until nothing small can be computed from what is shown. Orders of known groups fall
into months, like a flow from groups to months: a count can be another exactly where one order can
go round through it and every other count stays within what is known of it (a circulation within
whole bounds; textbooks of network flow).
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint.report.audit import counts
from orderlint.report.audit.small_cells import ShownCount, shown_line, shown_or_hidden, under_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import AuditResult, GroupCounts
    from orderlint.report.audit.hiding import Bounds, Key

_FIRST = 3
"""Values of a column that are shown by themselves."""
_REST = "rest"
_Graph: TypeAlias = "dict[str, set[str]]"
"""From each node the nodes to which one more order can go."""

_NO_LIMIT = 1 << 62
_ALL_MONTHS = ""
"""The node in which the orders of all months come together."""
_TRIED = 12
"""Counts that are tried, one by one, before the first of them is hidden untried."""


class MonthTable(NamedTuple):
    """The orders of each month by the first `values`; with `has_others` one more count stands for
    all other values together.
    """

    values: tuple[str, ...]
    has_others: bool
    months: Mapping[str, tuple[ShownCount, ...]]


def month_table(result: AuditResult, column: str, rule: str) -> MonthTable | None:
    """The table of one column; None where nothing of it may be shown, or no month is known."""
    groups = result.groups[column]
    parts = counts.most_first(counts.by_part(groups, result.min_cell, rule))
    values = tuple(part.name for part in parts if part.counted.value)[:_FIRST]
    is_hidden = counts.of_rule(result, rule).counted.value is None
    if is_hidden or not values or not result.months:
        return None
    months = sorted(result.months)
    cells = dict(_cells(groups, values, months, rule))
    by_value = list(dict.fromkeys(place for place, _ in cells))
    hidden = _TwoWay(cells, _months_known(result, rule), result.min_cell).hidden()
    if hidden is None:
        return None
    shown = {
        key: shown_or_hidden(count, result.min_cell, is_hidden=key in hidden)
        for key, count in cells.items()
    }
    lines = {month: tuple(shown[place, month] for place in by_value) for month in months}
    return MonthTable(values, _REST in by_value, lines)


def _cells(
    groups: Mapping[str, GroupCounts], values: tuple[str, ...], months: list[str], rule: str
) -> Iterator[tuple[Key, int]]:
    """The orders by the place of a value, or that of all others, and month."""
    places = {value: f"{place}" for place, value in enumerate(values)}
    found: dict[Key, int] = {
        (place, month): 0
        for value in groups
        for place in (places.get(value, _REST),)
        for month in months
    }
    for value, group in groups.items():
        for month, count in group.months.get(rule, {}).items():
            found[places.get(value, _REST), month] += count
    yield from sorted(found.items())


def _months_known(result: AuditResult, rule: str) -> dict[str, Bounds]:
    """Between what a reader knows the orders of each month to be."""
    counted = {
        month: part.rules[rule].reported if rule in part.rules else 0
        for month, part in result.months.items()
    }
    lines = [shown_line(counted, result.min_cell)]
    dated = counts.by_part(counts.dated(result), result.min_cell, rule)
    lines.append({part.name: part.counted for part in dated})
    return {
        month: _known([line[month] for line in lines if month in line], count, result.min_cell)
        for month, count in counted.items()
    }


def _known(said: list[ShownCount], count: int, min_cell: int) -> Bounds:
    """Between what a count is known to be that is said so: one not said to be small is not small,
    unless it is, and all were hidden with it.
    """
    if any(each.value is not None for each in said):
        return count, count
    if any(each.text == under_words(min_cell) for each in said):
        return 0, min_cell - 1
    return (min_cell if count >= min_cell else 0), _NO_LIMIT


class _TwoWay:
    """Cells, each by its group and month, of which some are to be hidden.

    `months` says between what a reader knows the orders of each month to be, those of each group
    being known. A month of which more is known than that, but for the cells, is nobody's secret.
    """

    def __init__(
        self, cells: Mapping[Key, int], months: Mapping[str, Bounds], min_cell: int
    ) -> None:
        self.cells, self.months, self.min_cell = cells, months, min_cell
        self.sums: dict[str, int] = defaultdict(int)
        for (_, month), count in cells.items():
            self.sums[month] += count

    def hidden(self) -> frozenset[Key] | None:
        """The cells to hide; None if that is not enough."""
        hidden = frozenset(key for key, count in self.cells.items() if 0 < count < self.min_cell)
        secrets = [*self.secrets(hidden)]
        for secret in secrets * 2:  # what hides one may let another be known no more
            hidden = self.covered(secret, hidden)
        graph = self.graph(hidden)
        return hidden if all(_can_change(graph, *secret) for secret in secrets) else None

    def secrets(self, small: frozenset[Key]) -> Iterator[Key]:
        """The months that could be another without the table, and every small cell."""
        graph = self.graph(frozenset(self.cells), (0, _NO_LIMIT))
        for month in self.months:
            if _can_change(graph, month, _ALL_MONTHS):
                yield month, _ALL_MONTHS
        yield from sorted(small)

    def covered(self, secret: Key, hidden: frozenset[Key]) -> frozenset[Key]:
        """Add the fewest hidden cells that keep a secret uncertain; none where none can."""
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
        return (0, self.min_cell - 1) if count < self.min_cell else (self.min_cell, _NO_LIMIT)


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
