"""The orders that the rule which stops most stops, by group and month, as they may be shown.

By month of the groups with most of them, and of all others together. Never a word of a report.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.audit import counts
from orderlint.report.audit.hiding import Relation, hidden_counts, is_safe
from orderlint.report.audit.small_cells import NOT_SHOWN, Shown, shown_line, under_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.model import AuditResult, GroupCounts
    from orderlint.report.audit.hiding import Key

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
    known = [*_of_values(cells, by_value, months), *_of_months(cells, result, by_value, rule)]
    hidden = hidden_counts(cells, known, result.min_cell, dict.fromkeys(cells, 0))
    if not is_safe(cells, known, result.min_cell, hidden):
        return None
    shown = partial(_shown, hidden, result.min_cell, cells)
    lines = {month: tuple(shown((place, month)) for place in by_value) for month in months}
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


def _of_values(
    cells: Mapping[Key, int], places: list[str], months: list[str]
) -> Iterator[Relation]:
    """The orders of each value are known: those of all others by what is left of the rule's."""
    for place in places:
        keys = [(place, month) for month in months]
        yield Relation(dict.fromkeys(keys, -1), sum(cells[key] for key in keys), none=True)


def _of_months(
    cells: Mapping[Key, int], result: AuditResult, places: list[str], rule: str
) -> Iterator[Relation]:
    """The orders of each month: known where they are shown, and else not to be known."""
    for month, most in _shown_months(result, rule).items():
        keys = [(place, month) for place in places]
        total = sum(cells[key] for key in keys)
        if most is None:
            yield Relation(dict.fromkeys(keys, -1), total, none=True)
            continue
        yield Relation(dict.fromkeys(keys, 1), secret=True)
        if most:
            yield Relation(dict.fromkeys(keys, -1), most)


def _shown_months(result: AuditResult, rule: str) -> dict[str, int | None]:
    """Of each month None if its count is shown somewhere, else what it is known to be at most; 0
    if that is not known.
    """
    whole = {
        month: part.rules[rule].reported if rule in part.rules else 0
        for month, part in result.months.items()
    }
    lines = [shown_line(whole, result.min_cell)]
    dated = counts.by_part(counts.dated(result), result.min_cell, rule)
    lines.append({part.name: part.counted for part in dated})
    found: dict[str, int | None] = {}
    for month in whole:
        said = [line[month] for line in lines if month in line]
        is_small = any(each.text == under_words(result.min_cell) for each in said)
        is_shown = any(each.value is not None for each in said)
        found[month] = None if is_shown else result.min_cell - 1 if is_small else 0
    return found


def _shown(hidden: frozenset[Key], min_cell: int, cells: Mapping[Key, int], key: Key) -> Shown:
    if key not in hidden:
        return Shown(cells[key], f"{cells[key]:,}")
    return Shown(None, under_words(min_cell) if cells[key] < min_cell else NOT_SHOWN)
