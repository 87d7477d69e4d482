"""A map says what the cells of other columns are: the rows are then those of verify."""

from __future__ import annotations

import datetime
import random
from decimal import Decimal

import pyarrow as pa
import pytest
from audit.answers import audit, differences
from audit.bases import clean
from audit.counts import counted
from audit.tables import UNIT, whole_row
from pyarrow import parquet

HEAD = "document: table-map\nformat: 1\ncolumns:\n"
ALONE = tuple(path for path in clean() if path not in {"treat_above", "patient.group"})
"""The settings that stand in columns of their own, which the map names."""
VALUES = ("8", "8.0", "08", "10", "", None, " ", "8 mmHg", "8 ", "9", "1e1", "\t8", "-2")
UNITS = ("mmHg", "cmH2O", "mm Hg", "", None, " ", "mL", "cm", " mmHg")
GROUPS = ("adult", "n/a", "-", "child", "", None, "N/A", "infant", "?")
ABSENT = ("n/a", "-", "")


def mapped(*more):
    """A map of the columns of a clean order, and more entries."""
    return HEAD + "".join(f"  {entry}\n" for entry in (*(f"{p}: c {p}" for p in ALONE), *more))


def columns_of(count):
    cells = {f"c {path}": [clean()[path]] * count for path in ALONE}
    return {**cells, UNIT: ["East"] * count}


def audited(tmp_path, text, columns):
    (tmp_path / "map.yaml").write_text(text)
    table = {name: v if isinstance(v, pa.Array) else pa.array(v) for name, v in columns.items()}
    parquet.write_table(pa.table(table), tmp_path / "orders.parquet")
    return audit("--map", tmp_path / "map.yaml", tmp_path / "orders.parquet")


def truth(changes):
    orders = ({path: clean()[path] for path in ALONE} | cells for cells in changes)
    return counted([whole_row(cells, number, "East") for number, cells in enumerate(orders)])


@pytest.mark.slow
def test_values_and_units_of_two_columns_are_one_text(tmp_path):
    chance = random.Random(3)
    pairs = [(chance.choice(VALUES), chance.choice(UNITS)) for _ in range(30)]
    columns = columns_of(30) | {"level": [value for value, _ in pairs]}
    columns["of"] = [unit for _, unit in pairs]
    said = audited(tmp_path, mapped("treat_above: {column: level, unit_column: of}"), columns)
    texts = [f"{value} {unit}" if value and unit else value for value, unit in pairs]
    assert differences(said, truth({"treat_above": text} for text in texts)) == {}


def test_a_unit_of_the_map_stands_behind_each_value(tmp_path):
    columns = columns_of(len(VALUES)) | {"level": [*VALUES]}
    said = audited(tmp_path, mapped("treat_above: {column: level, unit: cmH2O}"), columns)
    texts = [f"{value} cmH2O" if value else value for value in VALUES]
    assert differences(said, truth({"treat_above": text} for text in texts)) == {}


def test_words_that_mean_absent_are_nothing_written(tmp_path):
    columns = columns_of(len(GROUPS)) | {"age": [*GROUPS]}
    said = audited(tmp_path, mapped('patient.group: {column: age, absent: [n/a, "-"]}'), columns)
    texts = [None if group in ABSENT else group for group in GROUPS]
    assert differences(said, truth({"patient.group": text} for text in texts)) == {}


NUMBERS = [8, 10, None, 0, -2]
FLOATS = [None if number is None else float(number) for number in NUMBERS]
PLAIN = ["8 mmHg", "10 mmHg", None, "0 mmHg", "-2 mmHg"]
READ = ", shortest_text: yes"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("cells", "texts", "more"),
    [
        (pa.array(NUMBERS, pa.int32()), PLAIN, ""),
        (pa.array(FLOATS), PLAIN, READ),
        (pa.array([8.5, 0.1, 22.25]), ["8.5 mmHg", "0.1 mmHg", "22.25 mmHg"], READ),
        (pa.array([Decimal("8.50"), Decimal("10.00")]), ["8.50 mmHg", "10.00 mmHg"], ""),
        (pa.array(["8", "8", None]).dictionary_encode(), ["8 mmHg", "8 mmHg", None], ""),
    ],
    ids=["whole numbers", "floats that are whole", "floats", "decimals", "a dictionary"],
)
def test_numbers_of_a_table_are_their_plain_text(cells, texts, more, tmp_path):
    columns = columns_of(len(texts)) | {"level": cells}
    entry = f"treat_above: {{column: level, unit: mmHg{more}}}"
    said = audited(tmp_path, mapped(entry), columns)
    assert differences(said, truth({"treat_above": text} for text in texts)) == {}


def test_instants_of_a_table_are_times_in_utc(tmp_path):
    at = datetime.datetime(2026, 3, 2, 20, 10, tzinfo=datetime.UTC)
    columns = columns_of(2) | {"c written": pa.array([at, None], pa.timestamp("ms", "UTC"))}
    said = audited(tmp_path, mapped(), columns)
    assert differences(said, truth([{"written": "2026-03-02T20:10:00Z"}, {"written": None}])) == {}
