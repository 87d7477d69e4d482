"""The files of rows that `audit` writes: which, where, and what is said of them."""

from __future__ import annotations

import csv
import json

import pytest
from running import CLEAN, run

EXAMPLES = CLEAN.parent
MAPPED = ("--map", EXAMPLES / "past-orders-map.yaml")
PAST = EXAMPLES / "past-orders.csv"
ACTIVE = "=HYPERLINK(1)"


@pytest.fixture
def hostile(tmp_path):
    """A small table with a formula in a column that is read, in one that is not, and as a name."""
    path = tmp_path / "past.csv"
    head, row = ("id", "therapy", "note", "=1+1"), (ACTIVE, "irrigation", ACTIVE, "quiet")
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([head, row])
    return path


def rows_of(path):
    with path.open(newline="", encoding="utf-8-sig") as stream:
        return [*csv.DictReader(stream)]


@pytest.mark.slow
@pytest.mark.parametrize("form", ["text", "json", "html"])
def test_changed_columns_are_said_on_standard_error_and_in_the_report(form, hostile, tmp_path):
    rows, sheet = tmp_path / "rows.csv", tmp_path / "sheet.csv"
    ran = run(
        *("audit", "--format", form, "--rows", rows, "--sample", "1", "--sheet", sheet, hostile)
    )
    assert f"In {rows}, column id, note, =1+1, an apostrophe stands before" in ran.err
    assert f"In {sheet}, column id, an apostrophe stands before" in ran.err
    (row,) = rows_of(rows)
    assert row["id"] == row["note"] == f"'{ACTIVE}"
    assert row["'=1+1"] == "quiet"
    assert "missing-irrigation-rate" in row["rules_broken"].split("; ")
    assert {row["id"] for row in rows_of(sheet)} == {f"'{ACTIVE}"}
    if form == "json":
        assert json.loads(ran.out)["rows"] == 1
    else:
        assert "an apostrophe stands before" in " ".join(ran.out.decode().split())


def test_parquet_is_written_as_the_table_has_it_and_nothing_is_said(hostile, tmp_path):
    ran = run("audit", "--rows", tmp_path / "rows.parquet", hostile)
    assert "apostrophe" not in ran.err
    assert "1 row written to" in ran.out.decode()


@pytest.mark.slow
def test_a_sheet_has_so_many_orders_of_each_rule(tmp_path):
    sheet = tmp_path / "sheet.csv"
    run("audit", *MAPPED, "--sample", "2", "--seed", "3", "--sheet", sheet, PAST)
    rows = rows_of(sheet)
    per_rule = [row["rule"] for row in rows].count("drain-above-treat-above")
    assert per_rule == 2
    assert {row["remarks"] for row in rows} == {""}
    again = tmp_path / "again.csv"
    run("audit", *MAPPED, "--sample", "2", "--seed", "3", "--sheet", again, PAST)
    assert again.read_bytes() == sheet.read_bytes()


def test_no_file_that_is_read_is_written_over(hostile, tmp_path):
    before = hostile.read_bytes()
    other = tmp_path / "other.csv"
    for options, said in (
        (("--rows", hostile), "--rows is one of the files that are read"),
        (("--sample", "1", "--sheet", hostile), "--sheet is one of the files that are read"),
        (("--sample", "1", "--rows", other, "--sheet", other), "--sheet is one of the files"),
        (("--output", other, "--rows", other), "--rows is one of the files"),
        (("--rows", "-"), "--rows is a file"),
        (("--sheet", other), "--sheet is of the orders that --sample N draws"),
        (("--rows", tmp_path / "rows.txt"), "named .parquet, .csv or .xlsx"),
        (("--rows", tmp_path / "none" / "rows.csv"), "there is no such folder"),
    ):
        ran = run("audit", *options, hostile)
        assert ran.status == 2, options
        assert said in ran.err, options
    assert hostile.read_bytes() == before
    assert [*tmp_path.iterdir()] == [hostile]
