"""The query of an audit on its engines; what they need comes with .ci/engines.

They must count what `evaluate` says, order by order, and refuse what cannot be trusted.
"""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import duckdb
import pytest
from databases import SPARK_PYTHON, InDuckDB, Postgres, Rows, run_in_spark, table_of
from rows_of_texts import drawn_rows, meaning, pool, read_row
from running import run

from orderlint.audit.sql.outcomes import outcome_of
from orderlint.audit.sql.planted_rows import verified_leaves
from orderlint.audit.sql.query import query_for
from orderlint.audit.sql.read_texts import keys_of, write_texts
from orderlint.audit.sql.self_check import REFUSED
from orderlint.audit.sql.spec import Query, asked_of
from orderlint.language.tree import And
from orderlint.rulebook.load import load
from orderlint.tables.table_map import MappedColumn

if TYPE_CHECKING:
    import pyarrow as pa

pytestmark = pytest.mark.engines

ROWS = 2_500
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
UNCOUNTED = ["offset-not-of-zone", "text-number-differs", "text-asks-for-act"]
COUNTS = ("broken", "kept", "not_asked", "unchecked")


class Tables(NamedTuple):
    """The orders, what each rule comes to in them, the query, and the files of read texts."""

    orders: pa.Table
    meant: dict
    refused: int
    query: Query
    csv: object
    parquet: object


@pytest.fixture(scope="module")
def tables(tmp_path_factory):
    folder = tmp_path_factory.mktemp("texts")
    folder.chmod(0o755)
    rows = drawn_rows(ROWS, seed=1)
    orders = table_of(rows, sorted(pool()))
    asked = asked_of(load("all"))
    query = Query(asked, tuple(MappedColumn(path, path) for path in sorted(pool())))
    files = folder / "texts.csv", folder / "texts.parquet"
    for file in files:
        write_texts(str(file), asked.table, keys_of(query, [Rows(orders)], tuple(sorted(pool()))))
    refused = sum(read_row(row) is None for row in rows)
    return Tables(orders, meaning(rows, load("all")), refused, query, *files)


def check(found, tables):
    """The counts of every rule are those of its meaning, and no rule is left out."""
    assert not [row["rule"] for row in found if row["rule"].startswith(REFUSED)]
    asked = tables.query.asked
    counted = [row for row in found if row["note"] is None]
    assert [row["rule"] for row in counted] == [*(r.rule for r in asked.rules), *asked.faults]
    assert {row["rule"] for row in found} - {row["rule"] for row in counted} == {*asked.uncounted}
    for row in counted:
        assert (row["all_rows"], row["refused"]) == (ROWS, tables.refused)
        meant = tables.meant[row["rule"]]
        assert [row[name] for name in COUNTS] == [meant[name] for name in COUNTS], row["rule"]
    assert sum(row["broken"] > 0 for row in counted) > len(counted) // 2


def with_texts(query: str, name: str) -> str:
    """The query with names of leaves in double quotes where the rules are asked.

    `name` is a pattern of the names, with what stands before the quotes in its first group.
    """
    start, end = query.index(" outcomes AS ("), query.index(" counts AS (")
    changed = re.sub(name, r'\1"\2"', query[start:end])
    assert changed != query[start:end]
    return query[:start] + changed + query[end:]


def test_the_planted_orders_show_each_setting_of_each_rule_that_is_dropped(tables):
    asked = tables.query.asked
    leaves = {id(row): verified_leaves(row.texts, None) for row in asked.planted.rows}
    for trees in asked.rules:
        rows = [row for row in asked.planted.rows if row.rule == trees.rule]
        for at in range(len(trees.kept.items) if trees.kept else 0):
            others = And((*trees.kept.items[:at], *trees.kept.items[at + 1 :]))
            found = [outcome_of(trees._replace(kept=others), leaves[id(row)]) for row in rows]
            is_noticed = found != [row.expected for row in rows]
            assert is_noticed or trees.rule in asked.planted.unbroken, (trees.rule, at)
    assert asked.planted.unbroken == ("adult-needs-own-policy", "key-not-known")


def test_duckdb_counts_what_is_meant(tables):
    text = query_for(tables.query, "duckdb", "built-in")
    check(InDuckDB(tables.orders, str(tables.parquet)).run(text), tables)


def test_postgresql_counts_what_is_meant(tables):
    text = query_for(tables.query, "postgres", "built-in")
    with Postgres() as server:
        server.load(tables.orders, tables.query.asked.table, tables.csv)
        check(server.run(f"SET jit = off; {text}"), tables)
        server.run("UPDATE read_texts SET text = 'another' WHERE path = 'treat_above'")
        (row,) = server.run(f"SET jit = off; {text}")
        assert row["rule"].startswith(REFUSED)


def test_spark_counts_what_is_meant_and_refuses_names_that_are_texts(tables, tmp_path):
    assert os.environ.get(SPARK_PYTHON), f"{SPARK_PYTHON} names no Python that has pyspark"
    text = query_for(tables.query, "spark", "built-in")
    # With ANSI mode off Spark takes a name in double quotes for a text. Of numbers it says nothing,
    # where a text stands for a truth it may.
    numbers, every = with_texts(text, r"(\* )`([^`]*)`"), with_texts(text, r"()`([^`]*)`")
    asked = [(text, True), (text, False), (numbers, False), (every, False)]
    ansi, lenient, of_numbers, of_all = run_in_spark(tmp_path, tables.orders, tables.parquet, asked)
    check(ansi, tables)
    check(lenient, tables)
    (row,) = of_numbers
    assert row["rule"].startswith(REFUSED)
    assert [row[name] for name in COUNTS] == [None] * 4
    assert isinstance(of_all, str) or [each["rule"][: len(REFUSED)] for each in of_all] == [REFUSED]


def test_an_audit_of_the_same_table_counts_the_same(tmp_path):
    files = (EXAMPLES / "past-orders.csv", "--map", EXAMPLES / "past-orders-map.yaml")
    counted, query, texts = (tmp_path / name for name in ("a.json", "a.sql", "texts.csv"))
    assert run("audit", *files, "--format", "json", "--output", counted).status == 1
    assert run("audit", *files, "--sql", "duckdb", "--texts", texts, "--output", query).status == 0
    database = duckdb.connect(config={"threads": 1})
    for name, file in (("orders", files[0]), ("read_texts", texts)):
        # As text, so that an order's number and a digest stay what is written.
        read = f"read_csv('{file}', header = true, all_varchar = {name == 'orders'})"
        database.execute(f"CREATE TABLE {name} AS FROM {read}")
    found = database.execute(query.read_text("utf-8")).fetchall()
    of_audit = json.loads(counted.read_text("utf-8"))["rules"]
    assert [row[0] for row in found if row[9]] == UNCOUNTED
    assert {row[0]: row[5:9] for row in found if not row[9]} == {
        rule: tuple(counts[name] for name in COUNTS)
        for rule, counts in of_audit.items()
        if rule not in UNCOUNTED
    }
