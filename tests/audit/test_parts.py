"""Parts of an audit are kept in a folder, and used for that very audit alone."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest
from pyarrow import parquet
from running import run

from orderlint.audit.table_files.arrow_cells import cells_of
from orderlint.audit.table_files.opening import open_table

HEAD = "written,treat_above,pause.upper\n"
ROW = "2026-03-02T14:10:00Z,25 mmHg,20 mmHg\n"


@pytest.fixture
def orders(tmp_path):
    file = tmp_path / "orders.csv"
    file.write_text(HEAD + 7 * ROW, encoding="utf-8")
    return file


def audit(orders, *more):
    return run("audit", "--format", "json", "--part-rows", "3", *more, orders)


def test_a_run_goes_on_with_the_parts_that_are_there(orders, tmp_path):
    folder = tmp_path / "parts"
    whole = audit(orders)
    assert audit(orders, "--parts", folder).out == whole.out
    (folder / "part-00000-000000000003.json").unlink()
    assert audit(orders, "--parts", folder, "--resume").out == whole.out
    assert len([*folder.glob("part-*")]) == 3


def test_parts_are_not_used_unasked(orders, tmp_path):
    assert audit(orders, "--parts", tmp_path / "parts").status == 1
    again = audit(orders, "--parts", tmp_path / "parts")
    assert (again.status, again.out) == (2, b"")
    assert "--resume" in again.err


@pytest.mark.parametrize("what", ["table", "options"])
def test_parts_of_another_audit_are_refused(what, orders, tmp_path):
    audit(orders, "--parts", tmp_path / "parts")
    more = ("--seed", "3", "--sample", "1") if what == "options" else ()
    if what == "table":
        orders.write_text(HEAD + 8 * ROW, encoding="utf-8")
    changed = audit(orders, "--parts", tmp_path / "parts", "--resume", *more)
    assert (changed.status, changed.out) == (2, b"")
    assert f"changed is {what}" in changed.err


def test_a_part_that_is_none_is_refused(orders, tmp_path):
    audit(orders, "--parts", tmp_path / "parts")
    (tmp_path / "parts" / "part-00000-000000000000.json").write_text("[]", encoding="utf-8")
    refused = audit(orders, "--parts", tmp_path / "parts", "--resume")
    assert refused.status == 2
    assert "no part of an audit" in refused.err


def test_how_much_memory_is_an_amount(orders):
    assert audit(orders, "--memory", "2 GB").status == 1
    for wrong in ("5", "1TB", "100MB", "0GB"):
        assert audit(orders, "--memory", wrong).status == 2


def test_a_file_of_many_is_open_only_while_it_is_read(tmp_path):
    file = tmp_path / "orders.parquet"
    parquet.write_table(pa.table({"treat_above": ["25 mmHg"]}), file)
    table = open_table(str(file), None)
    assert file not in {each.resolve() for each in Path("/proc/self/fd").iterdir()}
    assert (table.rows, [each.num_rows for each in table.batches(["treat_above"], (), 0)]) == (
        1,
        [1],
    )


def test_a_part_has_the_texts_of_its_own_rows_alone():
    whole = pa.chunked_array([pa.array(["a", "b", "", "c", None, "b"]).dictionary_encode()])
    cells = cells_of(whole.slice(1), ["c"])
    assert (cells.codes.to_list(), cells.texts.to_list()) == ([0, None, None, None, 0], ["b"])
