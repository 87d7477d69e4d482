"""Writes the table of read texts as a file to be loaded into a database: Parquet or CSV.

Those of the orders and of the planted rows, as they stand there, since a query compares them; it is
not for a spreadsheet. Never what a text means.
"""

from __future__ import annotations

import contextlib
import os
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow import csv

from orderlint.audit.sql.read_texts import OFFSETS, TextKey
from orderlint.audit.tables.arrow_cells import cells_of
from orderlint.audit.tables.table import chunks
from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.audit.rows import Cells
    from orderlint.audit.sql.read_texts import TextTable
    from orderlint.audit.sql.spec import Query
    from orderlint.audit.tables.table import Table
    from orderlint.tables.table_map import MappedColumn

_AT_ONCE, _ROWS_AT_ONCE = 20_000, 250_000
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


def keys_of(query: Query, tables: Iterable[Table], names: tuple[str, ...]) -> Iterator[TextKey]:
    """Every key once. `names` are the columns that are read. Raises Refused."""
    seen: set[TextKey] = set()
    for key in _keys(query, tables, names):
        if key not in seen:
            seen.add(key)
            yield key


def _keys(query: Query, tables: Iterable[Table], names: tuple[str, ...]) -> Iterator[TextKey]:
    for row in query.asked.planted.rows:
        yield from _keys_of_order(row.texts)
    for table in tables:
        for part in chunks(table.batches(names, (), 0), _ROWS_AT_ONCE):
            for mapped in query.mapping:
                yield from _keys_of_column(query, part, mapped)
            yield from _offsets_of_part(query, part)
            if query.as_of is not None:
                found = cells_of(part.column(query.as_of)).texts
                yield from (TextKey(CHECKED_AT, CHECKED_AT, text) for text in found)


def _keys_of_order(texts: Mapping[str, str]) -> Iterator[TextKey]:
    for path, text in texts.items():
        yield from _keys_at(path, text, "")
    for path, name in OFFSETS.items():
        if path in texts and "zone" in texts:
            yield TextKey(name, path, texts[path], texts["zone"])


def _keys_at(path: str, text: str, unit: str) -> Iterator[TextKey]:
    """The keys of a text: of its own leaf, and of those of a section that it is written for."""
    leaves = dict.fromkeys((path, *field_table().sections.get(path, ())))
    yield from (
        TextKey(leaf, path, text, unit)
        for leaf in leaves
        if leaf in field_table().fields or leaf == CHECKED_AT
    )


def _keys_of_column(query: Query, part: pa.Table, mapped: MappedColumn) -> Iterator[TextKey]:
    values = cells_of(part.column(mapped.column), mapped.absent)
    if mapped.unit_column is None:
        for text in values.texts:
            yield from _keys_at(mapped.path, text, mapped.unit or "")
    else:
        units = cells_of(part.column(mapped.unit_column), mapped.absent)
        for text, unit in _pairs(values, units):
            yield from _keys_at(mapped.path, text, unit or "")
    if mapped.path == "written" and query.as_of is None:
        yield from (TextKey(CHECKED_AT, CHECKED_AT, text) for text in values.texts)


def _offsets_of_part(query: Query, part: pa.Table) -> Iterator[TextKey]:
    zone = query.columns.get("zone")
    for path, name in OFFSETS.items():
        time = query.columns.get(path)
        if zone is not None and time is not None:
            times = cells_of(part.column(time.column), time.absent)
            zones = cells_of(part.column(zone.column), zone.absent)
            yield from (TextKey(name, path, at, of) for at, of in _pairs(times, zones) if of)


def _pairs(values: Cells, others: Cells) -> Iterator[tuple[str, str | None]]:
    """The different pairs of texts of two columns; where the first has none, there is no pair."""
    pairs = pl.DataFrame({"value": values.codes, "other": others.codes})
    found = pairs.filter(pl.col("value").is_not_null()).unique(maintain_order=True)
    texts = values.texts.gather(found["value"])
    yield from zip(texts, others.texts.gather(found["other"]), strict=True)
