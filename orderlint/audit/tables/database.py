"""Tables of DuckDB and SQLite files. They are opened to be read alone.

Never a query but for the columns of one table, and never what a text means.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa

from orderlint.audit.tables.arrow_cells import shortest_text
from orderlint.audit.tables.table import TableColumn, arrow_column, checked_columns, floats_refused
from orderlint.finding import Refused
from orderlint.rulebook.yaml_fields import near

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

SQLITE_MAGIC = b"SQLite format 3\x00"
DUCKDB_MAGIC, DUCKDB_AT = b"DUCK", 8
_BATCH = 65_536


class DuckTable:
    """A table or view of a DuckDB file."""

    names_vary = False

    def __init__(self, name: str, table: str) -> None:
        import duckdb  # noqa: PLC0415 - only such a file needs it

        self.name, self.table = name, table
        self._error = duckdb.Error
        try:
            self._connection = duckdb.connect(name, read_only=True)
            self._connection.execute("SET enable_external_access = false")
            listed = "SELECT table_name FROM information_schema.tables"
            tables = [row[0] for row in self._connection.execute(listed).fetchall()]
        except duckdb.Error:
            raise Refused("This is no DuckDB file that can be opened.", name) from None
        _check_table(table, tables, name)
        count = f"SELECT count(*) FROM {_quoted(table)}"
        self.rows: int | None = self._connection.sql(count).fetchall()[0][0]
        with closing(self._reader(("*",), limit=0)) as reader:
            self.columns = checked_columns(map(arrow_column, reader.schema), name)

    def batches(
        self, names: Sequence[str], floats: Collection[str] = (), start: int = 0
    ) -> Iterator[pa.RecordBatch]:
        """The rows of some columns in order, from `start` on."""
        del floats  # the type of a column tells
        try:
            found = self._reader([_quoted(name) for name in names], start=start)
            yield from found
        except (self._error, pa.ArrowException):
            raise Refused(f"The table {self.table} cannot be read.", self.name) from None

    def _reader(
        self, selected: Sequence[str], limit: int | None = None, start: int = 0
    ) -> pa.RecordBatchReader:
        until = "" if limit is None else f" LIMIT {limit}"
        query = f"SELECT {', '.join(selected)} FROM {_quoted(self.table)}{until} OFFSET {start}"
        return self._connection.sql(query).to_arrow_reader(_BATCH)


class SqliteTable:
    """A table or view of an SQLite file. The type of a column says nothing of its cells there."""

    names_vary = False

    def __init__(self, name: str, table: str) -> None:
        self.name, self.table = name, table
        try:
            with closing(self._opened()) as connection:
                listed = "SELECT name FROM sqlite_master WHERE type IN ('table', 'view')"
                _check_table(table, [row[0] for row in connection.execute(listed)], name)
                head = connection.execute(f"SELECT * FROM {_quoted(table)} LIMIT 0")
                columns = (TableColumn(each[0], "any", is_text=True) for each in head.description)
                self.columns = checked_columns(columns, name)
                count = connection.execute(f"SELECT count(*) FROM {_quoted(table)}")
                self.rows: int | None = count.fetchone()[0]
        except sqlite3.Error:
            raise Refused("This is no SQLite file that can be opened.", name) from None

    def batches(
        self, names: Sequence[str], floats: Collection[str] = (), start: int = 0
    ) -> Iterator[pa.RecordBatch]:
        """The rows of some columns in order, from `start` on.

        Only the columns of `floats` may hold floats.
        """
        selected = ", ".join(map(_quoted, names))
        try:
            with closing(self._opened()) as connection:
                query = f"SELECT {selected} FROM {_quoted(self.table)} LIMIT -1 OFFSET {start}"
                rows = connection.execute(query)
                while some := rows.fetchmany(_BATCH):
                    columns = zip(names, zip(*some, strict=True), strict=True)
                    arrays = [self._array(name, values, floats) for name, values in columns]
                    yield pa.RecordBatch.from_arrays(arrays, names=[*names])
        except (sqlite3.Error, UnicodeDecodeError):
            raise Refused(f"The table {self.table} cannot be read.", self.name) from None

    def _opened(self) -> sqlite3.Connection:
        return sqlite3.connect(f"{Path(self.name).resolve().as_uri()}?mode=ro", uri=True)

    def _array(self, name: str, values: Sequence[object], floats: Collection[str]) -> pa.Array:
        kinds = {type(value) for value in values}
        if bytes in kinds:
            raise Refused(f"The column {name} holds bytes, which are no text.", self.name)
        if float in kinds and name not in floats:
            raise Refused(floats_refused(name), self.name)
        if not kinds <= {str, type(None)}:
            values = [_text(value) for value in values]
        return pa.array(values, pa.string())


def _text(value: object) -> str | None:
    if value is None:
        return None
    return shortest_text(value) if isinstance(value, float) else str(value)


def _check_table(table: str, tables: Sequence[str], name: str) -> None:
    if table not in tables:
        raise Refused(f"There is no table {table}{near(table, tables)}.", name)


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
