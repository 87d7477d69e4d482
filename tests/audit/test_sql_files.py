"""The query in the wording of each database, and the files of read texts."""

from __future__ import annotations

import pyarrow.parquet as pq
import pytest
from few_rules import query
from pyarrow import csv

from orderlint.audit.sql.query import DIALECTS, in_dialect, query_for
from orderlint.audit.sql.read_texts import TextKey, flag_column, write_texts
from orderlint.finding import Refused
from orderlint.order import FLAGS


@pytest.mark.slow
@pytest.mark.parametrize("dialect", DIALECTS)
def test_a_dialect_keeps_names_types_remainders_and_three_values(dialect):
    text = query_for(query(), dialect, "a policy\n; DROP TABLE orders")
    name = "`treat_above given`" if dialect == "spark" else '"treat_above given"'
    assert name in text
    assert ('"' in text) == (dialect != "spark")
    assert " AS BIGINT)" in text
    assert " % " in text
    assert "WHEN FALSE THEN 3 WHEN TRUE THEN" in text
    head, statement = text.split("\nWITH ", 1)
    assert all(line.startswith("-- ") for line in head.splitlines())
    assert "DROP" not in statement
    assert statement.endswith((" ORDER BY place;\n", " NULLS FIRST;\n"))
    assert "offset-not-of-zone" in head


def test_a_backslash_and_a_quote_stay_what_they_are():
    written = in_dialect("SELECT 'a\\b''c\"d' AS x", "spark")
    assert written == "SELECT 'a\\\\b\\'c\"d' AS x"
    standard = "WITH cells AS (SELECT 'a\\b''c' AS x) SELECT x FROM cells"
    assert in_dialect(standard, "postgres") == standard.replace(" AS x)", " AS x OFFSET 0)")


def test_read_texts_are_the_same_in_both_kinds_of_file(tmp_path):
    table = query().asked.table
    keys = [TextKey("treat_above", "treat_above", text) for text in ('8 "mmHg"\n', "8.0 mmHg", " ")]
    for kind in ("parquet", "csv"):
        assert write_texts(str(tmp_path / f"texts.{kind}"), table, iter(keys)) == 3
    found = pq.read_table(tmp_path / "texts.parquet")
    options = csv.ConvertOptions(
        column_types=found.schema, strings_can_be_null=True, quoted_strings_can_be_null=False
    )
    parse = csv.ParseOptions(newlines_in_values=True)
    same = csv.read_csv(tmp_path / "texts.csv", parse_options=parse, convert_options=options)
    assert same.to_pylist() == found.to_pylist()
    assert [row["given"] for row in found.to_pylist()] == [True, True, False]
    with pytest.raises(Refused):
        write_texts(str(tmp_path / "texts.xlsx"), table, iter(keys))
    assert sorted(each.name for each in tmp_path.iterdir()) == ["texts.csv", "texts.parquet"]


def test_columns_of_read_texts_need_no_quotes_and_are_apart():
    assert len({flag_column(flag) for flag in FLAGS}) == len(FLAGS)
    assert all(name.isidentifier() and name.islower() for name in query().asked.table.columns)
