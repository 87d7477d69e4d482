"""The orders that the rule which stops most stops, by group and month, as they may be shown.

By month of the groups with most of them, and of all others together. Never a word of a report.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.audit import counts
from orderlint.report.audit.small_cells import Shown, shown_line, shown_or_hidden, under_words
from orderlint.report.audit.two_way import NO_LIMIT, hidden_cells

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import AuditResult, GroupCounts
    from orderlint.report.audit.hiding import Bounds, Key

_FIRST = 3
"""Values of a column that are shown by themselves."""
_REST = "rest"


class MonthTable(NamedTuple):
    """The orders of each month by the first `values`; with `has_others` one more count stands for
    all other values together.
    """

    values: tuple[str, ...]
    has_others: bool
    months: Mapping[str, tuple[Shown, ...]]


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
    hidden = hidden_cells(cells, _months_known(result, rule), result.min_cell)
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


def _known(said: list[Shown], count: int, min_cell: int) -> Bounds:
    """Between what a count is known to be that is said so: one not said to be small is not small,
    unless it is, and all were hidden with it.
    """
    if any(each.value is not None for each in said):
        return count, count
    if any(each.text == under_words(min_cell) for each in said):
        return 0, min_cell - 1
    return (min_cell if count >= min_cell else 0), NO_LIMIT
