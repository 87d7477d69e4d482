"""A map or a table that cannot be used is refused with its place, before anything is counted."""

from __future__ import annotations

import re

import duckdb
import pyarrow as pa
import pytest
from audit.files import TABLE, as_csv, written
from audit.tables import table
from pyarrow import parquet
from running import run

HEAD = "document: table-map\nformat: 1\ncolumns:\n"
BOMB = "a: &a [x, x, x]\nb: &b [*a, *a, *a]\nc: &c [*b, *b, *b]\n"

MAPS = {
    "an order": "document: order\nformat: 1\n",
    "no head": "columns: {treat_above: treat_above}\n",
    "another format": "document: table-map\nformat: 2\ncolumns: {treat_above: treat_above}\n",
    "a path that no order has": f"{HEAD}  treat_abov: treat_above\n",
    "a column that the table does not have": f"{HEAD}  treat_above: treat\n",
    "one path twice": f"{HEAD}  treat_above: treat_above\n  treat_above: pause.upper\n",
    "a column as value and as unit": (
        f"{HEAD}  treat_above: {{column: treat_above, unit_column: treat_above}}\n"
    ),
    "a unit column that is not there": (
        f"{HEAD}  treat_above: {{column: treat_above, unit_column: of what}}\n"
    ),
    "a key that means nothing": f"{HEAD}  treat_above: {{column: treat_above, units: mmHg}}\n",
    "no column": f"{HEAD}  treat_above: {{unit: mmHg}}\n",
    "a list": f"{HEAD}  treat_above: [treat_above]\n",
    "a number": f"{HEAD}  treat_above: 7\n",
    "absent words that are no list": f"{HEAD}  treat_above: {{column: treat_above, absent: x}}\n",
    "a unit and a unit column": (
        f"{HEAD}  treat_above: {{column: treat_above, unit: mmHg, unit_column: unit}}\n"
    ),
    "a unit of another kind": f"{HEAD}  treat_above: {{column: treat_above, unit: mL}}\n",
    "a unit that nobody knows": f"{HEAD}  treat_above: {{column: treat_above, unit: zz}}\n",
    "a unit of a choice": f"{HEAD}  therapy: {{column: therapy, unit: mmHg}}\n",
    "a bomb": f"{HEAD}  treat_above: treat_above\n{BOMB}",
    "a direction mark": f"{HEAD}  treat_above: \u202etreat_above\n",
    "too deep": f"{HEAD}  treat_above: {'[' * 40}{']' * 40}\n",
    "no YAML": f"{HEAD}  treat_above: {{column\n",
    "a tag": f"{HEAD}  treat_above: !!python/object:os.system treat_above\n",
    "nothing": "",
}


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    (made,) = written([*table(1, 3)], tmp_path_factory.mktemp("table"), "parquet")
    return made


@pytest.mark.parametrize("text", MAPS.values(), ids=[*MAPS])
def test_a_map_that_cannot_be_used_is_refused_with_its_place(text, file, tmp_path):
    given = tmp_path / "map.yaml"
    given.write_text(text, encoding="utf-8")
    ran = run("audit", "--map", given, file)
    refused(ran)
    assert re.search(r"map\.yaml(:\d+:\d+)?: ", ran.err)


@pytest.mark.parametrize(
    "option", ["--as-of=column:nothing", "--by=nothing", "--month=nothing", "--as-of=signing"]
)
def test_a_column_that_is_not_there_is_refused(option, file):
    refused(run("audit", option, file))


def test_columns_that_are_read_twice_or_not_at_all_are_said(file, tmp_path):
    given = tmp_path / "map.yaml"
    given.write_text(f"{HEAD}  treat_above: pause.upper\n  pause.upper: pause.upper\n")
    ran = run("audit", "--map", given, file)
    assert ran.status in {0, 1}
    assert "pause.upper is read as several settings" in ran.err
    assert "checked, display_unit" in ran.err


def test_floats_are_refused_unless_their_shortest_text_is_asked_for(tmp_path):
    file, given = tmp_path / "floats.parquet", tmp_path / "map.yaml"
    parquet.write_table(pa.table({"treat": [8.0, 0.1, None]}), file)
    given.write_text(f"{HEAD}  treat_above: {{column: treat, unit: mmHg}}\n")
    ran = run("audit", "--map", given, file)
    refused(ran)
    assert "treat" in ran.err
    given.write_text(f"{HEAD}  treat_above: {{column: treat, unit: mmHg, shortest_text: yes}}\n")
    assert run("audit", "--map", given, file).status in {0, 1}


def _of_text(content):
    def make(folder):
        (folder / "orders.csv").write_bytes(content)
        return [folder / "orders.csv"]

    return make


def _missing(folder):
    return [folder / "orders.csv"]


def _no_parquet(folder):
    (folder / "orders.parquet").write_bytes(b"PAR1 and nothing else")
    return [folder / "orders.parquet"]


def _broken_line(folder):
    (folder / "orders.ndjson").write_text('{"treat_above": "8 mmHg"}\n{"treat_above": \n')
    return [folder / "orders.ndjson"]


def _of_no_kind(folder):
    (folder / "orders.dat").write_text("treat_above\n8 mmHg\n")
    return [folder / "orders.dat"]


def _other_columns(folder):
    rows = [*table(1, 2)]
    as_csv(rows, folder / "a.csv")
    (folder / "b.csv").write_text("treat_above,pause.upper\n8 mmHg,22 mmHg\n")
    return [folder / "a.csv", folder / "b.csv"]


def _no_such_table(folder):
    with duckdb.connect(str(folder / "orders.duckdb")) as database:
        database.execute("CREATE TABLE others (treat_above TEXT)")
    return [folder / "orders.duckdb", "--table", TABLE]


TABLES = {
    "missing": _missing,
    "empty": _of_text(b""),
    "no column of an order": _of_text(b"a,b\n1,2\n"),
    "a column twice": _of_text(b"treat_above,treat_above\n8 mmHg,9 mmHg\n"),
    "a line too long": _of_text(b"treat_above,pause.upper\n8 mmHg,22 mmHg,x\n"),
    "a line too short": _of_text(b"treat_above,pause.upper\n8 mmHg\n"),
    "a quote that does not end": _of_text(b'treat_above,pause.upper\n"8 mmHg,22 mmHg\n'),
    "no UTF-8": _of_text(b"treat_above,pause.upper\n8 mmHg,22 mmHg \xff\n"),
    "no Parquet": _no_parquet,
    "a line that is no JSON": _broken_line,
    "no kind of table": _of_no_kind,
    "files with other columns": _other_columns,
    "no such table": _no_such_table,
}


@pytest.mark.parametrize("make", TABLES.values(), ids=[*TABLES])
def test_a_table_that_cannot_be_read_is_refused(make, tmp_path):
    refused(run("audit", *make(tmp_path)))


def refused(ran):
    assert ran.status == 2, (ran.status, ran.out[:300], ran.err)
    assert ran.out == b""
    assert ran.err.strip()
    assert "Traceback" not in ran.err
