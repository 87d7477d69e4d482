"""The table of read texts: which texts stand in it, what each means, and the file of it.

Texts stand as they do in the orders and the planted rows, since a query compares them; the reading
is the tool's own. Never SQL, and never a rule.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
from hashlib import sha256
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow import csv

from orderlint.audit.table_files.arrow_cells import cells_of
from orderlint.audit.table_files.table import Table, chunks
from orderlint.audit.texts import read_cell
from orderlint.fields import CHECKED_AT, field_table, schema_text
from orderlint.finding import Refused
from orderlint.language.naming import names_one
from orderlint.language.to_sql import digest_of_list
from orderlint.local_time import utc_offset, zone_clock
from orderlint.order import Leaf, State

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.audit.rows import Cells
    from orderlint.audit.sql.outcomes import Tests
    from orderlint.audit.sql.spec import Query
    from orderlint.tables.table_map import MappedColumn

    Cell = bool | int | str | None

_AT_ONCE, _ROWS_AT_ONCE = 20_000, 250_000
_TYPES = {"VARCHAR": pa.string(), "BIGINT": pa.int64(), "BOOLEAN": pa.bool_()}
_WRITERS = {".parquet": pq.ParquetWriter, ".csv": csv.CSVWriter}
OFFSETS = {"starts": "offset of starts", "review_by": "offset of review_by"}
"""By a time, the name under which its offset from UTC in its zone stands, in seconds."""


class TextKey(NamedTuple):
    """What a row of the table is found by.

    `path` is the setting that is read from the text, `written_at` the setting or the section at
    which the text stands, the same but for a section written as one text. `unit_text` is what a
    unit's own column says, or the zone of an offset; else ''.
    """

    path: str
    written_at: str
    text: str
    unit_text: str = ""

    @property
    def whole(self) -> str:
        """The text that is read, as `cells_by_path` joins it."""
        return f"{self.text} {self.unit_text}" if self.unit_text else self.text


class TextTable(NamedTuple):
    """The table of read texts that the conditions of a rulebook need.

    `made_for` is a digest of all on which the reading of a text depends, in hexadecimal digits.
    `flags` and `lists` have a column each; `tests` are what is looked for in the text of a leaf.
    """

    made_for: str
    flags: tuple[str, ...]
    lists: tuple[tuple[str, ...], ...]
    tests: Mapping[str, Tests]

    @property
    def columns(self) -> Mapping[str, str]:
        """Column → type in SQL; all that identify a row stand first."""
        return {
            **dict.fromkeys(("path", "written_at", "text", "unit_text", "made_for"), "VARCHAR"),
            "refused": "BOOLEAN",
            "given": "BOOLEAN",
            "number": "BIGINT",
            **dict.fromkeys(("choice", "unit", "fault"), "VARCHAR"),
            **{flag_column(flag): "BOOLEAN" for flag in self.flags},
            **{list_column(listed): "BOOLEAN" for listed in self.lists},
        }

    def row(self, key: TextKey) -> tuple[Cell, ...]:
        """The row of a text, in the order of `columns`."""
        if key.path in OFFSETS.values():
            leaf, fault, refused = _offset(key), None, False
        else:
            leaf, fault, refused = _reading(key)
        field = field_table().fields.get(key.path)
        is_choice = field is not None and field.kind == "choice"
        named = self.tests[key.path].lists if key.path in self.tests and leaf.has_words else ()
        return (
            *key,
            self.made_for,
            refused,
            leaf.given,
            leaf.value if isinstance(leaf.value, int) else None,
            leaf.value if is_choice else None,
            leaf.unit if leaf.known else None,
            fault,
            *(flag in leaf.flags if leaf.given else None for flag in self.flags),
            *(names_one(leaf.text, each) if each in named else None for each in self.lists),
        )


def text_table(tests: Mapping[str, Tests], version: str) -> TextTable:
    """The table for conditions that look for these things in the texts of leaves."""
    flags = sorted({flag for each in tests.values() for flag in each.flags})
    lists = sorted({listed for each in tests.values() for listed in each.lists})
    told = json.dumps([version, schema_text("order"), flags, lists])
    made_for = sha256(told.encode()).hexdigest()[:16]
    return TextTable(made_for, tuple(flags), tuple(lists), tests)


def flag_column(flag: str) -> str:
    """The column of a notation flag."""
    return f"written_{re.sub('[^a-z]', '_', flag)}"


def list_column(listed: tuple[str, ...]) -> str:
    """The column of a list of names."""
    return f"names_{digest_of_list(listed)}"


def _reading(key: TextKey) -> tuple[Leaf, str | None, bool]:
    """The leaf that a text makes, the rule that it breaks in being read, whether it is refused."""
    at = "written" if key.path == CHECKED_AT else key.written_at
    found = read_cell(at, key.whole)
    own = {leaf.path: leaf for leaf in (found.leaf, *found.spoilt)}
    leaf = found.leaf if key.path == CHECKED_AT else own.get(key.path, Leaf(key.path))
    # Of a text that may break two rules no audit knows either; one cell has one fault at most.
    fault = found.faults[0].rule if found.faults and key.path != CHECKED_AT else None
    return leaf, fault, bool(found.refused)


def _offset(key: TextKey) -> Leaf:
    """A leaf with the offset of a time in a zone, in seconds; without a value if it has none."""
    at = read_cell(key.written_at, key.text).leaf.value
    zone = read_cell("zone", key.unit_text).leaf
    clock = zone_clock(str(zone.value)) if zone.known else None
    if clock is None or not isinstance(at, int):
        return Leaf(key.path)
    return Leaf(key.path, State.KNOWN, round(utc_offset(clock, at).total_seconds()))


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


def keys_of(query: Query, tables: Iterable[Table], names: tuple[str, ...]) -> Iterable[TextKey]:
    """Every key once. `names` are the columns that are read. Raises Refused."""
    return dict.fromkeys(_keys(query, tables, names))


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
