"""Finds out what kind of table a file is, and opens it.

By its first bytes, else by its name. Never a cell.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from orderlint.audit.table_files import database
from orderlint.audit.table_files.arrow_files import PARQUET_MAGIC, csv_table, parquet_table
from orderlint.audit.table_files.lines import lines_table
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from orderlint.audit.table_files.table import Table

_BY_NAME: Mapping[str, Callable[[str], Table]] = {
    ".ndjson": lines_table,
    ".jsonl": lines_table,
    ".csv": csv_table,
}


def open_table(file: str, table: str | None = None) -> Table:
    """Open a file as a table; `table` is the one of a database that is meant. Raises Refused."""
    head = _head(file)
    is_sqlite = head.startswith(database.SQLITE_MAGIC)
    if is_sqlite or head[database.DUCKDB_AT :].startswith(database.DUCKDB_MAGIC):
        if table is None:
            said = "This is a database; say with --table which of its tables is meant."
            raise Refused(said, file)
        opened = database.sqlite_table if is_sqlite else database.duckdb_table
        return opened(file, table)
    if table is not None:
        raise Refused("This is no database file, so that --table means nothing of it.", file)
    if head.startswith(PARQUET_MAGIC):
        return parquet_table(file)
    for ending, of_kind in _BY_NAME.items():
        if file.lower().endswith(ending):
            return of_kind(file)
    kinds = "Parquet, CSV (.csv), lines of JSON (.ndjson, .jsonl), or a DuckDB or SQLite file"
    raise Refused(f"This is no table that can be read: {kinds}.", file)


def _head(file: str) -> bytes:
    try:
        with open(file, "rb") as stream:  # noqa: PTH123 - a name is opened just as it was given
            return stream.read(len(database.SQLITE_MAGIC))
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else None
        raise Refused(f"The file cannot be read: {reason or 'it is no file name'}.", file) from None


def file_digest(file: str) -> str:
    """The SHA-256 of a file's bytes, in hexadecimal digits. Raises Refused."""
    try:
        with open(file, "rb") as stream:  # noqa: PTH123 - a name is opened just as it was given
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise Refused(f"The file cannot be read: {error.strerror}.", file) from None
