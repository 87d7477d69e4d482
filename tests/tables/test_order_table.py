"""Tables of orders: wide, long and JSON say the same, and no changed cell becomes a value."""

from __future__ import annotations

import csv
import functools
import io
import json

import pytest
from rule_examples import NAMES, examples

import orderlint
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.tables.order_table import document_of_row, order_of, read_order_table
from orderlint.tables.table_map import read_table_map
from orderlint.verification import verify_order

AT = 1_772_480_000_000
FIELDS = field_table().fields


@functools.cache
def orders():
    """Orders of the rules' own examples, by path."""
    texts = [
        {p: t for p, t in example.written.items() if p in FIELDS and t.strip()}
        for name in NAMES
        for example in examples(name)[:2]
        if not example.order_set
    ]
    distinct = {json.dumps(each, sort_keys=True): each for each in texts if each}
    return [*distinct.values()]


def written(rows, delimiter=","):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter).writerows(rows)
    return out.getvalue().encode()


def wide(delimiter=","):
    paths = [path for path in FIELDS if any(path in each for each in orders())]
    rows = [[each.get(path, "") for path in paths] for each in orders()]
    return read_order_table(written([paths, *rows], delimiter), "wide.csv")


def long():
    rows = [(n, p, t) for n, each in enumerate(orders()) for p, t in each.items()]
    return read_order_table(written([("order", "field", "value"), *rows]), "long.csv")


def said(verified):
    return [(f.rule, f.path, f.says, f.written) for f in verified.assessment.findings], [
        *verified.assessment.unchecked
    ]


def test_the_same_orders_wide_long_and_as_json_have_the_same_findings():
    assert len(orders()) >= 200
    book = load("order")
    tables = [wide().rows, wide(";").rows, wide("\t").rows, long().rows]
    for at, rows in enumerate(zip(*tables, strict=True)):
        by_json = orderlint.verify(document_of_row(rows[0]), at=datetime_of(AT)).found
        for row in rows:
            found = verify_order(order_of(row, "x.csv"), AT, book)
            assert said(found) == said(by_json), (at, orders()[at])


def datetime_of(instant):
    from datetime import UTC, datetime  # noqa: PLC0415

    return datetime.fromtimestamp(instant / 1000, UTC)


def test_a_place_is_a_row_and_a_column():
    table = read_order_table(b"id,treat_above\nx,8 mmHg\ny,8\n", "t.csv")
    order = order_of(table.rows[1], "t.csv")
    assert [str(fault.place) for fault in order.faults if fault.rule == "unit-missing"] == [
        "t.csv:3:2"
    ]
    assert [row.name for row in table.rows] == ["t.csv:2", "t.csv:3"]


@pytest.mark.parametrize(
    "cell", ["2-Feb", "44594", "1E+03", "8.00E+00", "#REF!", "=8", "02.08.2026", "8,5", "TRUE"]
)
def test_a_cell_that_a_spreadsheet_changed_is_never_a_value(cell):
    for path in ("treat_above", "irrigation.rate", "monitoring.icp_every", "written", "therapy"):
        row = read_order_table(written([[path], [cell]]), "t.csv").rows[0]
        order = order_of(row, "t.csv")
        assert not order.leaves[path].known, (path, cell)
        assert [fault.path for fault in order.faults] == [path]


MAP = """\
document: table-map
format: 1
columns:
  therapy: THERAPY
  pause.lower: {column: LO, unit: mmHg}
  pause.upper: {column: HI, unit_column: HI_U}
  treat_above: {column: TREAT, absent: ["n/a", "-"]}
"""


def entries(text=MAP):
    return read_table_map(read(text.encode(), "map.yaml", "table-map"))


def test_a_map_says_which_column_and_which_unit():
    data = b"\xef\xbb\xbfTHERAPY;LO;HI;HI_U;TREAT;WHO\r\nirrigation;2;22;mmHg;n/a;x\r\n\r\n"
    table = read_order_table(data, "t.csv", entries())
    texts = {path: cell.text for path, cell in table.rows[0].cells.items()}
    assert texts == {"therapy": "irrigation", "pause.lower": "2 mmHg", "pause.upper": "22 mmHg"}
    assert table.said == ("Not read, as no setting is mapped to them: WHO.",)


def test_a_long_table_takes_the_same_map_and_a_unit_beside():
    data = b"order,field,value,unit\n7,THERAPY,irrigation,\n7,LO,2,\n8,TREAT,8,mmHg\n"
    table = read_order_table(data, "t.csv", entries())
    texts = {row.name: {p: c.text for p, c in row.cells.items()} for row in table.rows}
    assert texts == {
        "t.csv:7": {"therapy": "irrigation", "pause.lower": "2 mmHg"},
        "t.csv:8": {"treat_above": "8 mmHg"},
    }


REFUSED = {
    b"": "empty",
    b"PK\x03\x04xx": "Save it as CSV",
    b"\xd0\xcf\x11\xe0xx": "Save it as CSV",
    b"id,treat_above\nx\n": "more or fewer",
    b"id,id\nx,y\n": "Two columns",
    b"name\nx\n": "No column",
    b'id,treat_above\n"x,8\n': "cannot be read as CSV",
    b"id\n\xff\n": "not UTF-8",
    b"order,field,value\n1,id,x\n1,id,y\n": "stands twice",
    b"i\x00d\nx\n": "NULL",
}


@pytest.mark.parametrize("data", REFUSED)
def test_what_is_no_table_of_text_is_refused(data):
    with pytest.raises(Refused) as refused:
        read_order_table(data, "t.csv")
    assert REFUSED[data] in str(refused.value)


def test_a_column_that_is_not_there_is_refused_at_its_place_in_the_map():
    with pytest.raises(Refused) as refused:
        read_order_table(b"THERAPY,LO,HI,TREAT\nx,1,2,3\n", "t.csv", entries())
    assert str(refused.value).startswith("map.yaml:6:")


@pytest.mark.parametrize("cell", ["a\x00b", "a\u202eb", "x" * 20_001, "9" * 50])
def test_a_row_that_no_order_can_be_is_refused_at_its_cell(cell):
    row = read_order_table(written([["id", "instructions"], ["x", cell]]), "t.csv").rows[0]
    with pytest.raises(Refused) as refused:
        order_of(row, "t.csv")
    assert str(refused.value).startswith("t.csv:2:2")


def test_a_section_that_is_one_text_and_has_parts_is_refused():
    data = written([["irrigation.additive", "irrigation.additive.name"], ["none", "x"]])
    with pytest.raises(Refused):
        order_of(read_order_table(data, "t.csv").rows[0], "t.csv")
