"""The different texts that a query will meet: those of a table, and those of its planted rows.

Which texts. Never what one means.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit.sql.read_texts import OFFSETS, TextKey
from orderlint.audit.tables.arrow_cells import cells_of
from orderlint.audit.tables.table import chunks
from orderlint.fields import CHECKED_AT, field_table

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    import pyarrow as pa

    from orderlint.audit.rows import Cells
    from orderlint.audit.sql.spec import Query
    from orderlint.audit.tables.table import Table
    from orderlint.tables.table_map import MappedColumn

_AT_ONCE = 250_000


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
        for part in chunks(table.batches(names, (), 0), _AT_ONCE):
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
