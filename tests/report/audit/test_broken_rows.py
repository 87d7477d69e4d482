"""The rows that break a rule come out as they stand in the table, with all the rules they break."""

from __future__ import annotations

from collections import Counter

import past_orders
import polars as pl
import pytest

from orderlint.audit.auditor import Audit, GivenPolicy, Options
from orderlint.audit.columns import mapping_of
from orderlint.audit.run import run
from orderlint.audit.table_files.opening import file_digest, open_table
from orderlint.reading import read
from orderlint.report.audit.broken_rows import BROKEN, REPORTED, BrokenRows
from orderlint.rulebook.load import load
from orderlint.tables.table_map import read_table_map

MAP = past_orders.WRITTEN.with_name("past-orders-map.yaml")


@pytest.fixture(scope="module")
def audited(tmp_path_factory):
    """The result of an audit in parts of 50 rows, and the rows that it wrote."""
    path = tmp_path_factory.mktemp("rows") / "rows.parquet"
    table = open_table(str(past_orders.WRITTEN))
    entries = read_table_map(read(MAP.read_bytes(), MAP.name, "table-map"))
    audit = Audit(
        [table],
        [file_digest(table.name)],
        mapping_of([table], entries, carry=True),
        [GivenPolicy(load(), "built-in")],
        Options(),
        part_rows=50,
    )
    with BrokenRows(str(path)) as out:
        found = run(audit, [out])
    return found, pl.read_parquet(path)


@pytest.mark.slow
def test_each_rule_is_with_as_many_rows_as_are_counted(audited):
    found, rows = audited
    for column, name in ((BROKEN, "broken"), (REPORTED, "reported")):
        told = Counter(rule for cell in rows[column] for rule in cell.split("; "))
        counts = {rule: getattr(each, name) for rule, each in found.rules.items()}
        assert told == {rule: count for rule, count in counts.items() if count}
        assert len(told) > 5


@pytest.mark.slow
def test_the_columns_are_those_of_the_table_as_they_stand_there(audited):
    found, rows = audited
    source = pl.read_csv(past_orders.WRITTEN, infer_schema=False)
    assert rows.columns == [*source.columns, BROKEN, REPORTED]
    written = source.filter(pl.col("ORDER_NO").is_in(rows["ORDER_NO"].to_list()))
    assert rows.drop(BROKEN, REPORTED).equals(written)
    refused = source.filter(pl.col("PRESCRIBER").str.contains("\u202e"))
    assert 0 < refused.height == found.refused.count
    assert not {*refused["ORDER_NO"]} & {*rows["ORDER_NO"]}
