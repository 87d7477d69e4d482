"""The first part of a query: the planted rows, and the orders, as the texts of their cells.

Both have the same columns from here on, and go the same way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import CHECKED_AT
from orderlint.language.to_sql import identifier, quoted_name, sql_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.audit.sql.spec import Query
    from orderlint.tables.table_map import MappedColumn

NO_TEXT = "CAST(NULL AS VARCHAR)"
_NO_NUMBER = "CAST(NULL AS BIGINT)"


def cell_text(path: str) -> str:
    """Column, VARCHAR: the text of a cell; NULL where it is absent."""
    return identifier(f"{path} text")


def unit_text_of(path: str) -> str:
    """Column, VARCHAR: the unit that stands outside the cell; NULL where none does."""
    return identifier(f"{path} unit text")


def by_of(number: int) -> str:
    """Column, VARCHAR: what stands in the column by which rows are grouped, counted from 1."""
    return identifier(f"by {number}")


def cells(query: Query) -> Iterator[str]:
    """The table expressions that end in `cells`, a row for each planted row and each order."""
    yield f"planted_texts AS (SELECT * FROM (VALUES\n{_texts(query)}\n) AS v (n, path, text))"
    yield f"planted_rows AS (SELECT * FROM (VALUES\n{_rows(query)}\n) AS v (n, rule, expected))"
    pivoted = ",\n  ".join(
        f"MAX(CASE WHEN path = {sql_text(path)} THEN text END) AS {cell_text(path)}"
        for path in query.cells
    )
    yield f"planted_cells AS (SELECT n,\n  {pivoted}\nFROM planted_texts GROUP BY n)"
    yield f"cells AS (\n{_planted(query)}\nUNION ALL\n{_orders(query)}\n)"


def numbered(query: Query) -> Mapping[tuple[tuple[str, str], ...], int]:
    """The different orders among the planted rows, each with its number."""
    found = dict.fromkeys(tuple(row.texts.items()) for row in query.asked.planted.rows)
    return {texts: number for number, texts in enumerate(found, 1)}


def _texts(query: Query) -> str:
    return ",\n".join(
        f"({number}, {sql_text(path)}, {sql_text(text)})"
        for texts, number in numbered(query).items()
        for path, text in texts
    )


def _rows(query: Query) -> str:
    numbers = numbered(query)
    names = [*(each.rule for each in query.asked.rules), *query.asked.faults]
    ranks = {name: rank for rank, name in enumerate(names, 1)}
    found = {
        (numbers[tuple(row.texts.items())], ranks[row.rule], int(row.expected))
        for row in query.asked.planted.rows
    }
    return ",\n".join(f"({n}, {rule}, {expected})" for n, rule, expected in sorted(found))


def _planted(query: Query) -> str:
    columns = ["CAST(r.rule AS BIGINT) AS planted_rule", "CAST(r.expected AS BIGINT) AS expected"]
    columns += [f"{NO_TEXT} AS {by_of(n)}" for n, _ in enumerate(query.by, 1)]
    columns += [f"c.{cell_text(path)}" for path in query.cells]
    columns += [f"{NO_TEXT} AS {unit_text_of(p)}" for p in query.cells if query.has_unit(p)]
    joined = "planted_rows AS r JOIN planted_cells AS c ON c.n = r.n"
    return f"SELECT {_listed(columns)}\nFROM {joined}"


def _orders(query: Query) -> str:
    columns = [f"{_NO_NUMBER} AS planted_rule", f"{_NO_NUMBER} AS expected"]
    columns += [f"{_cast(name)} AS {by_of(n)}" for n, name in enumerate(query.by, 1)]
    columns += [f"{_cell(query, path)} AS {cell_text(path)}" for path in query.cells]
    columns += [
        f"{_unit(query.columns[path])} AS {unit_text_of(path)}"
        for path in query.cells
        if query.has_unit(path)
    ]
    return f"SELECT {_listed(columns)}\nFROM {table_name(query.orders)}"


def table_name(name: str) -> str:
    """The name of a table, with the schema before a point."""
    return ".".join(map(quoted_name, name.split(".")))


def _cell(query: Query, path: str) -> str:
    if path == CHECKED_AT:
        return _checked_at(query)
    column = query.columns.get(path)
    return _without_empty(column.column, column.absent) if column else NO_TEXT


def _checked_at(query: Query) -> str:
    if query.as_of is not None:
        return _without_empty(query.as_of, ())
    written = query.columns.get("written")
    return _without_empty(written.column, written.absent) if written else NO_TEXT


def _unit(column: MappedColumn) -> str:
    if column.unit_column is None:
        return sql_text(column.unit or "")
    return _without_empty(column.unit_column, column.absent)


def _without_empty(name: str, absent: Iterable[str]) -> str:
    """The text of a column; NULL where it is empty, or a word for what is absent."""
    text = _cast(name)
    for word in dict.fromkeys(["", *absent]):
        text = f"NULLIF({text}, {sql_text(word)})"
    return text


def _cast(name: str) -> str:
    return f"CAST({quoted_name(name)} AS VARCHAR)"


def _listed(columns: Iterable[str]) -> str:
    return "\n  " + ",\n  ".join(columns)


def planted_count(query: Query) -> int:
    """How many planted rows the query must find."""
    return _rows(query).count("\n") + 1
