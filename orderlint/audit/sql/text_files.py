"""Writes the table of read texts as a file to be loaded into a database: Parquet or CSV.

Texts stand in it as they are, since a query compares them; it is not for a spreadsheet.
"""

from __future__ import annotations

import contextlib
import os
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow import csv

from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.audit.sql.read_texts import TextKey, TextTable

_AT_ONCE = 20_000
_TYPES = {"VARCHAR": pa.string(), "BIGINT": pa.int64(), "BOOLEAN": pa.bool_()}
_WRITERS = {".parquet": pq.ParquetWriter, ".csv": csv.CSVWriter}


def check_name(file: str) -> None:
    """Raise Refused for a name that ends in neither .parquet nor .csv."""
    if Path(file).suffix.lower() not in _WRITERS:
        raise Refused("read texts are written to a file named .parquet or .csv", file)


def write_texts(file: str, table: TextTable, keys: Iterable[TextKey]) -> int:
    """Read each text and write its row, the whole file or none; how many there are.

    Raises Refused as `check_name` does, and OSError.
    """
    check_name(file)
    target = Path(file).resolve()
    kind = target.suffix.lower()
    schema = pa.schema([(name, _TYPES[each]) for name, each in table.columns.items()])
    part = target.with_name(f".orderlint-{os.urandom(8).hex()}.part")
    count, left = 0, iter(keys)
    try:
        with _WRITERS[kind](part, schema) as writer:
            while some := [*islice(left, _AT_ONCE)]:
                writer.write_table(_rows(table, schema, some))
                count += len(some)
        part.replace(target)
    finally:
        with contextlib.suppress(FileNotFoundError):
            part.unlink()
    return count


def _rows(table: TextTable, schema: pa.Schema, keys: Iterable[TextKey]) -> pa.Table:
    columns = zip(*map(table.row, keys), strict=True)
    arrays = [pa.array(values, each.type) for values, each in zip(columns, schema, strict=True)]
    return pa.Table.from_arrays(arrays, schema=schema)
