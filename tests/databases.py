"""Runs a query of an audit in DuckDB, PostgreSQL and Spark, over rows of texts by path."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq
from pyarrow import csv as pa_csv

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from orderlint.audit.sql.read_texts import TextTable

    Texts = Mapping[str, str]
    Row = Mapping[str, object]

COLUMNS = (
    *("rule", "by_column", "by_value", "all_rows", "refused"),
    *("broken", "kept", "not_asked", "unchecked", "note"),
)
_IN_POSTGRES = {"VARCHAR": "text", "BOOLEAN": "boolean", "BIGINT": "bigint"}
SPARK_PYTHON = "ORDERLINT_SPARK_PYTHON"
"""The environment variable with the Python that has pyspark."""


def table_of(rows: Sequence[Texts], columns: Iterable[str]) -> pa.Table:
    """The rows as a table of texts."""
    return pa.table({name: pa.array([r.get(name) for r in rows], pa.string()) for name in columns})


class Rows:
    """Rows in memory, as a table that an audit reads."""

    def __init__(self, table):
        self.table = table

    def batches(self, names, floats=(), start=0):
        del floats
        yield from self.table.select(list(names)).slice(start).to_batches()


class InDuckDB:
    """The tables of a query in DuckDB."""

    def __init__(self, orders: pa.Table, texts: str) -> None:
        self.connection = duckdb.connect(config={"threads": 1})
        self.connection.register("orders", orders)
        self.connection.execute(f"CREATE TABLE read_texts AS SELECT * FROM '{texts}'")

    def run(self, query: str) -> list[Row]:
        found = self.connection.execute(query).fetchall()
        return [dict(zip(COLUMNS, row, strict=True)) for row in found]


class Postgres:
    """A server for a test, in a folder of its own, that listens on a socket there and nowhere else.

    It never runs as root: there it runs as the user of Debian's package.
    """

    def __init__(self) -> None:
        # Not a folder of pytest's, which another user cannot enter; a socket's path is short, too.
        self.made = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        self.folder = Path(self.made.name)
        self.programs = max(Path("/usr/lib/postgresql").glob("*/bin"), key=_version)
        self.user = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []

    def __enter__(self) -> Postgres:
        if self.user:
            self.folder.chmod(0o755)
            subprocess.run(["chown", "postgres", str(self.folder)], check=True)
        data = str(self.folder / "data")
        self._tool("initdb", "-D", data, "-A", "trust", "-U", "postgres", "-E", "UTF8", "--no-sync")
        told = f"-k {self.folder} -c listen_addresses='' -c fsync=off"
        self._tool("pg_ctl", "-D", data, "-o", told, "-l", str(self.folder / "log"), "-w", "start")
        return self

    def __exit__(self, *error: object) -> None:
        self._tool("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")
        self.made.cleanup()

    def _tool(self, name: str, *told: str) -> None:
        command = [*self.user, str(self.programs / name), *told]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd="/")

    def load(self, orders: pa.Table, table: TextTable, texts: Path) -> None:
        """Make both tables; `texts` is the CSV of read texts."""
        columns = ", ".join(f'"{c}" {_IN_POSTGRES[t]}' for c, t in table.columns.items())
        of_orders = ", ".join(f'"{name}" text' for name in orders.column_names)
        self.run(f"CREATE TABLE read_texts ({columns}); CREATE TABLE orders ({of_orders})")
        self.run("COPY read_texts FROM STDIN (FORMAT csv, HEADER true)", texts.read_text("utf-8"))
        written = pa.BufferOutputStream()
        pa_csv.write_csv(orders, written, pa_csv.WriteOptions(include_header=False))
        data = written.getvalue().to_pybytes().decode("utf-8")
        self.run("COPY orders FROM STDIN (FORMAT csv)", data)
        self.run("ANALYZE")

    def run(self, query: str, given: str = "") -> list[Row]:
        """The rows of a query; `given` is what it copies from."""
        command = ["psql", "-h", str(self.folder), "-U", "postgres", "-q", "--csv", "-X"]
        command += ["-v", "ON_ERROR_STOP=1"]
        if given:
            command += ["-c", query]
        done = subprocess.run(
            command, input=given or query, capture_output=True, text=True, check=False, cwd="/"
        )
        if done.returncode:
            raise RuntimeError(done.stderr)
        return [_typed(row) for row in csv.DictReader(io.StringIO(done.stdout))]


def _version(folder: Path) -> int:
    return int(folder.parent.name)


def _typed(row: Mapping[str, str]) -> Row:
    return {k: int(v) if v.isdigit() and k in COLUMNS[3:9] else v or None for k, v in row.items()}


def run_in_spark(folder: Path, orders: pa.Table, texts: Path, asked: Iterable[tuple[str, bool]]):
    """The rows of each query, or the first line of the error; ANSI mode on or off."""
    pq.write_table(orders, folder / "orders.parquet")
    queries = []
    for number, (query, ansi) in enumerate(asked):
        path = folder / f"query-{number}.sql"
        path.write_text(query.rstrip().rstrip(";"), "utf-8")
        queries.append({"query": str(path), "ansi": ansi})
    job = {"orders": str(folder / "orders.parquet"), "texts": str(texts), "queries": queries}
    (folder / "job.json").write_text(json.dumps(job), "utf-8")
    script = str(Path(__file__).with_name("run_spark.py"))
    command = [os.environ[SPARK_PYTHON], script, str(folder / "job.json")]
    subprocess.run(command, check=True, cwd=folder)
    return json.loads((folder / "results.json").read_text("utf-8"))
