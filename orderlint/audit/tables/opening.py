"""Finds out what kind of table a file is, and opens it.

By its first bytes, else by its name. Never a cell.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from orderlint.audit.tables.database import DUCKDB_AT, DUCKDB_MAGIC, SQLITE_MAGIC
from orderlint.audit.tables.parquet import MAGIC
from orderlint.finding import Refused

if TYPE_CHECKING:
    from orderlint.audit.tables.table import Table

_LINES = (".ndjson", ".jsonl")


def open_table(file: str, table: str | None = None) -> Table:
    """Open a file as a table; `table` is the one of a database that is meant. Raises Refused."""
    head = _head(file)
    if head.startswith(SQLITE_MAGIC) or head[DUCKDB_AT:].startswith(DUCKDB_MAGIC):
        return _of_database(file, table, is_sqlite=head.startswith(SQLITE_MAGIC))
    if table is not None:
        raise Refused("This is no database file, so that --table means nothing of it.", file)
    if head.startswith(MAGIC):
        from orderlint.audit.tables.parquet import ParquetTable  # noqa: PLC0415 - one of several

        return ParquetTable(file)
    if file.lower().endswith(_LINES):
        from orderlint.audit.tables.lines import LinesTable  # noqa: PLC0415 - one of several

        return LinesTable(file)
    if file.lower().endswith(".csv"):
        from orderlint.audit.tables.delimited import CsvTable  # noqa: PLC0415 - one of several

        return CsvTable(file)
    kinds = "Parquet, CSV (.csv), lines of JSON (.ndjson, .jsonl), or a DuckDB or SQLite file"
    raise Refused(f"This is no table that can be read: {kinds}.", file)


def _of_database(file: str, table: str | None, *, is_sqlite: bool) -> Table:
    from orderlint.audit.tables.database import DuckTable, SqliteTable  # noqa: PLC0415

    if table is None:
        raise Refused("This is a database; say with --table which of its tables is meant.", file)
    return SqliteTable(file, table) if is_sqlite else DuckTable(file, table)


def _head(file: str) -> bytes:
    try:
        with open(file, "rb") as stream:  # noqa: PTH123 - a name is opened just as it was given
            return stream.read(len(SQLITE_MAGIC))
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else None
        raise Refused(f"The file cannot be read: {reason or 'it is no file name'}.", file) from None


def digest_of(file: str) -> str:
    """The SHA-256 of a file's bytes, in hexadecimal digits. Raises Refused."""
    try:
        with open(file, "rb") as stream:  # noqa: PTH123 - a name is opened just as it was given
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise Refused(f"The file cannot be read: {error.strerror}.", file) from None
