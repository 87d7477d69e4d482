"""One table in each format that an audit reads: the same cells, in one file or several."""

from __future__ import annotations

import csv
import json
import sqlite3
from typing import TYPE_CHECKING

import duckdb
import pyarrow as pa
from audit.tables import COLUMNS
from pyarrow import parquet

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from audit.bases import Row

TABLE = "orders"
"""The name of the table in an SQL file."""


def as_parquet(rows: Sequence[Row], file: Path) -> None:
    parquet.write_table(in_memory(rows), file)


def in_memory(rows: Sequence[Row]) -> pa.Table:
    columns = {name: [each[name] for each in rows] for name in COLUMNS}
    return pa.table({name: pa.array(cells, pa.string()) for name, cells in columns.items()})


def as_csv(rows: Sequence[Row], file: Path) -> None:
    """RFC 4180, each given cell in quotes: NULL is a cell without any."""
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, quoting=csv.QUOTE_NOTNULL if NOTNULL else csv.QUOTE_ALL)
        writer.writerow(COLUMNS)
        writer.writerows([each[name] for name in COLUMNS] for each in rows)


NOTNULL = hasattr(csv, "QUOTE_NOTNULL")  # from Python 3.12; an empty text is absent as well


def as_ndjson(rows: Sequence[Row], file: Path) -> None:
    """A line a row, in which a key that is NULL is written in half of the rows."""
    with file.open("w", encoding="utf-8", newline="\n") as stream:
        for number, each in enumerate(rows):
            given = {name: text for name, text in each.items() if text is not None or number % 2}
            stream.write(json.dumps(given, ensure_ascii=number % 3 == 0) + "\n")


def as_duckdb(rows: Sequence[Row], file: Path) -> None:
    with duckdb.connect(str(file)) as database:
        database.register("given", in_memory(rows))
        database.execute(f"CREATE TABLE {TABLE} AS SELECT * FROM given")


def as_sqlite(rows: Sequence[Row], file: Path) -> None:
    database = sqlite3.connect(file)
    named = ", ".join(f'"{name}" TEXT' for name in COLUMNS)
    database.execute(f"CREATE TABLE {TABLE} ({named})")
    marks = ", ".join("?" * len(COLUMNS))
    values = ([each[name] for name in COLUMNS] for each in rows)
    database.executemany(f"INSERT INTO {TABLE} VALUES ({marks})", values)
    database.commit()
    database.close()


FORMATS: dict[str, Callable[[Sequence[Row], Path], None]] = {
    "parquet": as_parquet,
    "csv": as_csv,
    "ndjson": as_ndjson,
    "duckdb": as_duckdb,
    "sqlite": as_sqlite,
}
"""By the ending of a file."""
IN_SQL = ("duckdb", "sqlite")


def written(rows: Sequence[Row], folder: Path, ending: str, files: int = 1) -> list[Path]:
    """The files of a table: so many, each with a share of its rows."""
    share = -(-len(rows) // files)
    made = []
    for number in range(files):
        made.append(folder / f"orders-{number:02}.{ending}")
        FORMATS[ending](rows[number * share : (number + 1) * share], made[-1])
    return made


def arguments(files: Sequence[Path], ending: str) -> list[str | Path]:
    """What names these files on the command line."""
    return [*files, *(("--table", TABLE) if ending in IN_SQL else ())]
