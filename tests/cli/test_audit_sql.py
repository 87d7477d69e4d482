"""`audit --sql` and `audit --texts`: what is written, and what is refused."""

from __future__ import annotations

import duckdb
import pytest
from running import run

from orderlint.audit.sql.self_check import REFUSED
from orderlint.cli import audit_sql
from orderlint.rulebook.load import load

RULES = ("treat-above-over-upper-pause", "unit-missing")
ROWS = (
    "therapy,pause.upper,treat_above,unit\nirrigation,20 mmHg,25 mmHg,a\nirrigation,20,8 mmHg,b\n"
)


@pytest.fixture(autouse=True)
def few_rules(monkeypatch):
    """The whole rulebook takes seconds; it is asked in tests/audit/test_engines.py."""
    whole = load("all")
    few = whole._replace(rules={name: whole.rules[name] for name in RULES})
    monkeypatch.setattr(audit_sql, "rulebook_with_examples", lambda _policy: few)


@pytest.fixture
def orders(tmp_path):
    file = tmp_path / "orders.csv"
    file.write_text(ROWS, "utf-8")
    return file


def counted(query, orders, texts):
    database = duckdb.connect(config={"threads": 1})
    database.execute("CREATE SCHEMA ward")
    read = f"read_csv('{orders}', header = true, all_varchar = true)"
    database.execute(f"CREATE TABLE ward.orders AS FROM {read}")
    database.execute(f"CREATE TABLE read_texts AS FROM '{texts}'")
    return [(*row[:4], row[5]) for row in database.execute(query).fetchall()]


def test_the_query_and_the_read_texts_are_written_and_count(orders, tmp_path):
    query, texts = tmp_path / "audit.sql", tmp_path / "texts.parquet"
    files = ("--texts", texts, "--output", query)
    where = ("--by", "unit", "--min-cell", "0", "--from", "ward.orders")
    ran = run("audit", orders, "--sql", "duckdb", *where, *files)
    assert (ran.status, ran.out) == (0, b"")
    assert "read texts written to" in ran.err
    found = counted(query.read_text("utf-8"), orders, texts)
    assert found == [
        ("treat-above-over-upper-pause", None, None, 2, 1),
        ("unit-missing", None, None, 2, 1),
        ("treat-above-over-upper-pause", "unit", "a", 1, 1),
        ("unit-missing", "unit", "a", 1, 0),
        ("treat-above-over-upper-pause", "unit", "b", 1, 0),
        ("unit-missing", "unit", "b", 1, 1),
    ]
    orders.write_text(ROWS + "irrigation,21.5 mmHg,8 mmHg,a\n", "utf-8")
    ((said, *_),) = counted(query.read_text("utf-8"), orders, texts)
    assert said.startswith(REFUSED)


def test_the_query_alone_goes_to_standard_output_for_each_engine(orders):
    for dialect in ("duckdb", "postgres", "spark"):
        ran = run("audit", orders, "--sql", dialect)
        assert ran.status == 0
        assert ran.out.startswith(f"-- orderlint 0.1.0, for {dialect}: ".encode())


def test_the_read_texts_alone_are_written(orders, tmp_path):
    ran = run("audit", orders, "--texts", tmp_path / "texts.csv")
    assert (ran.status, ran.out) == (0, b"")
    head, *rows = (tmp_path / "texts.csv").read_text("utf-8").splitlines()
    assert head.startswith('"path","written_at","text"')
    assert any('"8 mmHg"' in row for row in rows)


def test_the_read_texts_are_no_stream_and_not_the_file_of_the_query(orders, tmp_path):
    for told in (("--texts", "-"), ("--texts", tmp_path / "x.csv", "--output", tmp_path / "x.csv")):
        ran = run("audit", orders, "--sql", "duckdb", *told)
        assert ran.status == 2
        assert "--texts" in ran.err


@pytest.mark.parametrize("name", ["texts.xlsx", "texts", "missing/texts.csv", "orders.csv"])
def test_a_file_of_read_texts_that_cannot_be_is_refused(orders, tmp_path, name):
    ran = run("audit", orders, "--sql", "duckdb", "--texts", tmp_path / name)
    assert (ran.status, ran.out) == (2, b"")
    assert name.split("/")[-1] in ran.err or "--texts" in ran.err
    assert "Traceback" not in ran.err
    assert orders.read_text("utf-8") == ROWS
    assert {each.name for each in tmp_path.iterdir()} == {"orders.csv"}


def test_a_column_of_floats_is_refused(orders, tmp_path):
    columns = tmp_path / "columns.yaml"
    head = "document: table-map\nformat: 1\ncolumns:\n"
    one = "  treat_above: {column: treat_above, shortest_text: yes}\n"
    columns.write_text(head + one, "utf-8")
    ran = run("audit", orders, "--map", columns, "--sql", "spark")
    assert (ran.status, ran.out) == (2, b"")
    assert "treat_above is mapped with shortest_text" in ran.err


@pytest.mark.parametrize(
    "told",
    [
        *(("--against", "x.yaml"), ("--month", "written"), ("--sample", "3"), ("--from", "a..b")),
        *(("--rows", "x.csv"), ("--parts", "parts"), ("--format", "json"), ("--from", "")),
    ],
)
def test_what_a_query_does_not_do_is_wrong_usage(orders, told):
    ran = run("audit", orders, "--sql", "spark", *told)
    assert (ran.status, ran.out) == (2, b"")
    assert told[0] in ran.err


def test_a_table_in_a_database_is_named_for_a_query_alone(orders):
    ran = run("audit", orders, "--from", "ward.orders")
    assert ran.status == 2
    assert "--sql" in ran.err
