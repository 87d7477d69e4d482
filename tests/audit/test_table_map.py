"""A map of columns is read as its schema says, and a table is read by it cell by cell."""

from __future__ import annotations

import json

import pyarrow as pa
import pytest
from jsonschema import Draft202012Validator
from pyarrow import parquet

from orderlint.audit.columns import mapping_of
from orderlint.audit.row_reader import text_at
from orderlint.audit.table_files.arrow_cells import cells_by_path
from orderlint.audit.table_files.opening import open_table
from orderlint.fields import load_schema
from orderlint.finding import Refused
from orderlint.reading import read
from orderlint.tables.table_map import read_table_map

SCHEMA = Draft202012Validator(load_schema("table-map"))


def entries(**columns):
    document = {"document": "table-map", "format": 1, "columns": columns}
    assert SCHEMA.is_valid(document)
    return read_table_map(read(json.dumps(document).encode(), "map.json", "table-map"))


def mapped(tmp_path, table, **columns):
    """The texts by path of each row of a table that is mapped so."""
    parquet.write_table(pa.table(table), tmp_path / "orders.parquet")
    opened = open_table(str(tmp_path / "orders.parquet"))
    found = mapping_of([opened], entries(**columns))
    part = pa.Table.from_batches([*opened.batches(found.names(), found.floats(), 0)])
    cells = cells_by_path(part, found.mapped)
    return [
        {path: text for path in cells if (text := text_at(cells[path], row)) is not None}
        for row in range(part.num_rows)
    ]


def test_a_number_and_its_unit_are_joined(tmp_path):
    table = {"high": ["22", "22", None, "9 mmHg"], "of": ["mmHg", None, "mmHg", ""]}
    rows = mapped(tmp_path, table, **{"pause.upper": {"column": "high", "unit_column": "of"}})
    assert rows == [{"pause.upper": text} for text in ("22 mmHg", "22")] + [
        {},
        {"pause.upper": "9 mmHg"},
    ]


def test_a_fixed_unit_and_words_that_mean_absent(tmp_path):
    told = {"irrigation.rate": {"column": "rate", "unit": "mL/h", "absent": ["n/a", "-"]}}
    rows = mapped(tmp_path, {"rate": ["60", "n/a", "", "-", " "]}, **told)
    assert rows == [{"irrigation.rate": "60 mL/h"}, {}, {}, {}, {"irrigation.rate": "  mL/h"}]


@pytest.mark.parametrize(
    ("cells", "texts"),
    [
        (pa.array([60, 7]), ["60", "7"]),
        (pa.array([60.0, 0.1]), ["60", "0.1"]),
        (pa.array([True, False]), ["true", "false"]),
        (pa.array(["a", "a"]).dictionary_encode(), ["a", "a"]),
        (pa.array(["7.50", "60.00"]).cast(pa.decimal128(6, 2)), ["7.50", "60.00"]),
        (
            pa.array([0, 1], pa.timestamp("s", "UTC")),
            ["1970-01-01T00:00:00Z", "1970-01-01T00:00:01Z"],
        ),
        (pa.array([0, 1], pa.timestamp("ms")), ["1970-01-01T00:00:00", "1970-01-01T00:00:00.001"]),
    ],
    ids=["whole", "float", "truth", "dictionary", "decimal", "instant", "time"],
)
def test_each_type_has_one_text(cells, texts, tmp_path):
    rows = mapped(tmp_path, {"x": cells}, id={"column": "x", "shortest_text": True})
    assert [row["id"] for row in rows] == texts


def test_floats_are_refused_unless_they_are_mapped_as_their_text(tmp_path):
    with pytest.raises(Refused, match="holds floats"):
        mapped(tmp_path, {"x": [1.5]}, id="x")


def test_what_is_no_text_is_refused(tmp_path):
    with pytest.raises(Refused, match="is no text"):
        mapped(tmp_path, {"x": [[1]]}, id="x")
