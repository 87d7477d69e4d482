"""An audit says of a table what verify says of each row: no difference, in any format."""

from __future__ import annotations

import random

import pytest
from audit.answers import audit, differences, without_sources
from audit.counts import counted, of_drawn
from audit.files import FORMATS, arguments, written
from audit.tables import one_for_each_rule, table


@pytest.fixture(scope="module")
def few():
    """Rows of a drawn table, as few as a fraction of a second takes to judge."""
    return [*table(11, 40)]


def test_the_counts_of_a_drawn_table_are_those_of_verify(few, tmp_path):
    said = audit(*written(few, tmp_path, "parquet"))
    assert differences(said, counted(few)) == {}


@pytest.mark.parametrize("ending", FORMATS)
def test_the_same_table_in_any_format_has_the_same_result(ending, few, tmp_path):
    first = audit(*written(few, tmp_path, "parquet"))
    other = audit(*arguments(written(few, tmp_path, ending), ending))
    assert without_sources(other) == without_sources(first)


def test_shuffled_in_several_files_on_several_threads_it_has_the_same_result(few, tmp_path):
    first = audit(*written(few, tmp_path, "parquet"), "--threads", "1")
    shuffled = random.Random(1).sample(few, len(few))
    folder = tmp_path / "shuffled"
    folder.mkdir()
    other = audit(*written(shuffled, folder, "csv", files=7), "--threads", "2")
    assert without_sources(other) == without_sources(first)


def test_judged_as_of_another_column_it_is_what_verify_says_then(few, tmp_path):
    said = audit(*written(few[:20], tmp_path, "parquet"), "--as-of", "column:checked")
    assert differences(said, counted(few[:20], "checked")) == {}


@pytest.mark.deep
@pytest.mark.parametrize("as_of", ["written", "checked"])
def test_every_rule_is_counted_as_verify_finds_it(as_of, tmp_path):
    rows = [cells for _, cells in one_for_each_rule()]
    column = ("--as-of", f"column:{as_of}") if as_of != "written" else ()
    said = audit(*written(rows, tmp_path, "parquet"), *column)
    assert differences(said, counted(rows, as_of)) == {}


@pytest.mark.deep
def test_a_hundred_thousand_orders_differ_in_nothing(tmp_path):
    rows = [*table(1, 100_000)]
    assert len({text for row in rows for text in row.values() if text}) >= 180_000
    said = audit(*written(rows, tmp_path, "parquet"))
    assert differences(said, of_drawn(1, 100_000)) == {}


@pytest.mark.deep
@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize(("files", "threads"), [(1, 1), (1, 2), (50, 2)])
def test_ten_thousand_orders_are_the_same_however_they_stand(ending, files, threads, tmp_path):
    rows = [*table(2, 10_000)]
    first = without_sources(audit(*written(rows, tmp_path, "parquet"), "--threads", "2"))
    random.Random(files).shuffle(rows)
    folder = tmp_path / "other"
    folder.mkdir()
    given = arguments(written(rows, folder, ending, files), ending)
    assert without_sources(audit(*given, "--threads", str(threads))) == first
