"""Tables of orders from a seed: any row can be made alone, and is the same each time.

Columns are named by paths; three more, `row`, `unit` and `checked`, are no part of an order.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from audit.bases import CHECKED, Row, as_text, clean, drawn, laid_over, of_rules, whole
from audit.changes import FIELDS, RARE, SECTIONS, SMALL, note

from orderlint.rulebook.examples import NOW

if TYPE_CHECKING:
    from collections.abc import Iterator

NUMBER, UNIT = "row", "unit"
UNITS = ("neuro critical care", "Ward 7", "paediatric", "", "Z–3", "=1+1", None)
COLUMNS = (NUMBER, UNIT, CHECKED, *FIELDS, *SECTIONS)
"""Every column that a drawn table has, whether or not a row of it is given."""
AT_HAND = as_text(NOW)
DISTINCT = ("instructions", "stop_when")
"""Free texts of which, in most rows, no other row has the same."""


def table(seed: int, count: int) -> Iterator[Row]:
    """The first so many rows of a table, each with every column."""
    return (row(seed, number) for number in range(count))


def row(seed: int, number: int) -> Row:
    chance = Random(f"{seed}/{number}")
    cells: Row = {CHECKED: AT_HAND, **_base(chance, number)}
    for _ in range(chance.choice((0, 0, 0, 1, 1, 1, 2, 4, 8))):
        chance.choice(SMALL)(chance, cells)
    if chance.random() < 0.06:
        chance.choice(RARE)(chance, cells)
    for path in DISTINCT:
        if chance.random() < 0.92 and cells.get(path) is not None:
            cells[path] = _distinct(chance, number)
    return whole_row(cells, number, chance.choice(UNITS))


def _distinct(chance: Random, number: int) -> str:
    """A text that no other row has, in half of the rows one that says nothing."""
    return note(chance, number) if chance.random() < 0.5 else f"as told on sheet {number:x}"


def whole_row(cells: Row, number: int, unit: str | None) -> Row:
    """A row with every column, of which the cells are given."""
    return {**dict.fromkeys(COLUMNS), **cells, NUMBER: str(number), UNIT: unit}


def _base(chance: Random, number: int) -> Row:
    """An order to begin with: clean, of the examples, drawn about an edge, or a rule's."""
    kind = chance.random()
    if kind < 0.4:
        return clean()
    if kind < 0.5:
        return chance.choice(whole())
    if kind < 0.8:
        return laid_over(clean() if chance.random() < 0.8 else {}, drawn(number))
    return laid_over(clean(), chance.choice(of_rules()).cells)


def one_for_each_rule() -> Iterator[tuple[str, Row]]:
    """A row for each example that breaks a rule: as it stands, and over the clean order."""
    number = 0
    for rule, outcome, cells in of_rules():
        for given in (cells, laid_over(clean(), cells)) if outcome == "breaks" else ():
            yield rule, whole_row({CHECKED: AT_HAND, **given}, number, UNITS[number % len(UNITS)])
            number += 1
