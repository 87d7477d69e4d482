"""Parquet and CSV files as tables, read by Arrow.

CSV is comma-separated, as RFC 4180 has it, with names in the first row; every cell of it is text as
it stands. Never what a text means.
"""

from __future__ import annotations

import re
from csv import Error, reader
from functools import partial
from typing import TYPE_CHECKING

import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow import csv as arrow_csv

from orderlint.audit.table_files.table import (
    Table,
    TableColumn,
    after,
    arrow_column,
    checked_columns,
)
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

PARQUET_MAGIC = b"PAR1"
_BATCH = 65_536
_UNEVEN = re.compile(r"(?:Row #(\d+): )?Expected \d+ columns, got \d+")
_BLOCK = 16 * 1024 * 1024


def parquet_table(name: str) -> Table:
    """A Parquet file. Raises Refused."""
    try:
        with pq.ParquetFile(name) as file:  # of many files none is held open
            schema, rows = file.schema_arrow, file.metadata.num_rows
    except (pa.ArrowException, OSError, ValueError):
        raise Refused("This is not a whole Parquet file.", name) from None
    columns = checked_columns(map(arrow_column, schema), name)
    texts = frozenset(column.name for column in columns if "string" in column.kind)
    return Table(name, columns, partial(_of_parquet, name, texts), rows)


def _of_parquet(
    name: str, texts: Collection[str], names: Sequence[str], _floats: Collection[str], start: int
) -> Iterator[pa.RecordBatch]:
    """The rows of some columns; the type of a column tells whether it holds floats."""
    wanted = [each for each in names if each in texts]
    try:
        with pq.ParquetFile(name, read_dictionary=wanted) as file:
            groups, before = _groups_after(file, start)
            found = file.iter_batches(_BATCH, row_groups=groups, columns=[*names])
            yield from after(found, start - before)
    except (pa.ArrowException, OSError, ValueError):
        raise Refused("This Parquet file cannot be read to its end.", name) from None


def _groups_after(file: pq.ParquetFile, start: int) -> tuple[list[int], int]:
    """The groups of rows that do not end before `start`, and the rows of those that do."""
    before = 0
    for number in range(file.num_row_groups):
        rows = file.metadata.row_group(number).num_rows
        if before + rows > start:
            return [*range(number, file.num_row_groups)], before
        before += rows
    return [], before


def csv_table(name: str) -> Table:
    """A CSV file. Raises Refused."""
    # Arrow would read ahead for the first row, and not end with this process.
    try:
        with open(name, encoding="utf-8-sig", newline="") as file:  # noqa: PTH123
            names = next(reader(file, strict=True), [])
    except (UnicodeDecodeError, Error):
        raise Refused("The first row of the file is no row of names in CSV.", name) from None
    columns = (TableColumn(each, "text", is_text=True) for each in names)
    return Table(name, checked_columns(columns, name), partial(_of_csv, name))


def _of_csv(
    name: str, names: Sequence[str], _floats: Collection[str], start: int
) -> Iterator[pa.RecordBatch]:
    try:
        with _opened(name, names) as opened:
            yield from after(opened, start)
    except pa.ArrowException as error:
        raise _refusal(error, name) from None


def _opened(name: str, names: Sequence[str]) -> arrow_csv.CSVStreamingReader:
    types = {each: pa.string() for each in names}
    return arrow_csv.open_csv(
        name,
        read_options=arrow_csv.ReadOptions(block_size=_BLOCK),
        # A handler of rows that cannot be read would outlive the interpreter in a thread.
        parse_options=arrow_csv.ParseOptions(newlines_in_values=True),
        convert_options=arrow_csv.ConvertOptions(
            column_types=types, include_columns=[*names], null_values=[]
        ),
    )


def _refusal(error: pa.ArrowException, name: str) -> Refused:
    """Why a CSV file cannot be read, without a word of what stands in it."""
    if uneven := _UNEVEN.search(str(error)):
        at = f" (row {uneven[1]} of the file)" if uneven[1] else ""
        return Refused(f"A row has more or fewer cells than the first{at}.", name)
    if "UTF8" in str(error) or "utf8" in str(error):
        return Refused("The file is not UTF-8 text. Save it as UTF-8.", name)
    if "Empty CSV" in str(error):
        return Refused("The file is empty.", name)
    return Refused("This cannot be read as CSV.", name)
