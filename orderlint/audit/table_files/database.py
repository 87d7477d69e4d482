"""Tables of DuckDB and SQLite files. They are opened to be read alone.

Never a query but for the columns of one table, and never what a text means.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa

from orderlint.audit.table_files.arrow_cells import text_of
from orderlint.audit.table_files.table import (
    Table,
    TableColumn,
    arrow_column,
    checked_columns,
    floats_refused,
)
from orderlint.finding import Refused
from orderlint.rulebook.yaml_fields import near

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

SQLITE_MAGIC = b"SQLite format 3\x00"
DUCKDB_MAGIC, DUCKDB_AT = b"DUCK", 8
_BATCH = 65_536


def duckdb_table(name: str, table: str) -> Table:
    """A table or view of a DuckDB file. Raises Refused."""
    import duckdb  # noqa: PLC0415 - only such a file needs it

    try:
        connection = duckdb.connect(name, read_only=True)
        connection.execute("SET enable_external_access = false")
        listed = "SELECT table_name FROM information_schema.tables"
        tables = [row[0] for row in connection.execute(listed).fetchall()]
    except duckdb.Error:
        raise Refused("This is no DuckDB file that can be opened.", name) from None
    _check_table(table, tables, name)
    rows = connection.sql(f"SELECT count(*) FROM {_quoted(table)}").fetchall()[0][0]
    with closing(connection.sql(f"FROM {_quoted(table)} LIMIT 0").to_arrow_reader()) as reader:
        columns = checked_columns(map(arrow_column, reader.schema), name)

    def batches(
        names: Sequence[str], _floats: Collection[str], start: int
    ) -> Iterator[pa.RecordBatch]:
        """The rows of some columns; the type of a column tells whether it holds floats."""
        query = f"SELECT {_listed(names)} FROM {_quoted(table)} OFFSET {start}"
        try:
            yield from connection.sql(query).to_arrow_reader(_BATCH)
        except (duckdb.Error, pa.ArrowException):
            raise Refused(f"The table {table} cannot be read.", name) from None

    return Table(name, columns, batches, rows)


def sqlite_table(name: str, table: str) -> Table:
    """A table or view of an SQLite file. The type of a column says nothing of its cells there.

    Raises Refused.
    """
    try:
        with closing(_opened(name)) as connection:
            listed = "SELECT name FROM sqlite_master WHERE type IN ('table', 'view')"
            _check_table(table, [row[0] for row in connection.execute(listed)], name)
            head = connection.execute(f"SELECT * FROM {_quoted(table)} LIMIT 0")
            columns = (TableColumn(each[0], "any", is_text=True) for each in head.description)
            checked = checked_columns(columns, name)
            (rows,) = connection.execute(f"SELECT count(*) FROM {_quoted(table)}").fetchone()
    except sqlite3.Error:
        raise Refused("This is no SQLite file that can be opened.", name) from None
    return Table(name, checked, partial(_of_sqlite, name, table), rows)


def _of_sqlite(
    file: str, table: str, names: Sequence[str], floats: Collection[str], start: int
) -> Iterator[pa.RecordBatch]:
    query = f"SELECT {_listed(names)} FROM {_quoted(table)} LIMIT -1 OFFSET {start}"
    try:
        with closing(_opened(file)) as connection:
            rows = connection.execute(query)
            while some := rows.fetchmany(_BATCH):
                columns = zip(names, zip(*some, strict=True), strict=True)
                arrays = [_array(file, name, values, floats) for name, values in columns]
                yield pa.RecordBatch.from_arrays(arrays, names=[*names])
    except (sqlite3.Error, UnicodeDecodeError):
        raise Refused(f"The table {table} cannot be read.", file) from None


def _opened(name: str) -> sqlite3.Connection:
    return sqlite3.connect(f"{Path(name).resolve().as_uri()}?mode=ro", uri=True)


def _array(file: str, name: str, values: Sequence[object], floats: Collection[str]) -> pa.Array:
    kinds = {type(value) for value in values}
    if bytes in kinds:
        raise Refused(f"The column {name} holds bytes, which are no text.", file)
    if float in kinds and name not in floats:
        raise Refused(floats_refused(name), file)
    if not kinds <= {str, type(None)}:
        values = [text_of(value) for value in values]
    return pa.array(values, pa.string())


def _check_table(table: str, tables: Sequence[str], name: str) -> None:
    if table not in tables:
        raise Refused(f"There is no table {table}{near(table, tables)}.", name)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(map(_quoted, names))


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
