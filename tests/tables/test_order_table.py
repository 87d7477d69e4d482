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
    with pytest.raises(Refused) as refused:
        order_of(read_order_table(data, "t.csv").rows[0], "t.csv")
    assert str(refused.value) == (
        "t.csv:2:1: irrigation.additive and irrigation.additive.name are both written, "
        "and no order has both. (the other is at t.csv:2:2)"
    )


def unknown_keys(row):
    """Those of a row, each with its place, as a row of a table and as the document that it is."""
    by_row = verify_order(order_of(row, "t.csv"), AT, load("order")).assessment.findings
    by_json = orderlint.verify(document_of_row(row), at=datetime_of(AT)).found.assessment.findings
    assert [f.written for f in by_json if f.rule == "key-not-known"] == [
        f.written for f in by_row if f.rule == "key-not-known"
    ]
    return [(f.written, str(f.place)) for f in by_row if f.rule == "key-not-known"]


def test_a_field_of_no_setting_is_an_unknown_key_of_its_order():
    names = ("drain_hieght", "irrigation.rat", "irrigation.rate.x", "foo", "a..b")
    for name in names:
        rows = [("1", "therapy", "drainage"), ("1", name, "12 mmHg"), ("2", "therapy", "drainage")]
        data = written([("order", "field", "value"), *rows, ("2", name, " ")])
        first, second = read_order_table(data, "t.csv").rows
        assert unknown_keys(first) == [(name, "t.csv:3:3")], name
        assert not unknown_keys(second)


def test_a_field_without_a_name_is_refused_where_something_is_written_in_it():
    data = written([("order", "field", "value"), ("1", "therapy", "drainage"), ("1", "", "x")])
    with pytest.raises(Refused) as refused:
        order_of(read_order_table(data, "t.csv").rows[0], "t.csv")
    assert str(refused.value) == "t.csv:3:3: A key is empty."


def test_a_column_that_is_like_a_setting_is_an_unknown_key_and_another_is_not():
    like = ("Drain height (mmHg)", "drain_hieght", "upper_pause", "Minimum CPP [mmHg]", "ID")
    for name in like:
        data = written([["therapy", name], ["drainage", "12 mmHg"], ["drainage", ""]])
        first, second = read_order_table(data, "t.csv").rows
        assert unknown_keys(first) == [(name, "t.csv:2:2")], name
        assert not unknown_keys(second)
    others = ("MRN", "ward", "state", "unit", "date", "time", "name", "site", "ordered_by", "(x)")
    for name in others:
        data = written([["therapy", name], ["drainage", "12 mmHg"]])
        assert not unknown_keys(read_order_table(data, "t.csv").rows[0]), name


def test_where_a_map_says_what_is_read_no_other_name_is_unknown():
    data = b"THERAPY,LO,HI,HI_U,TREAT,Drain height\nirrigation,2,22,mmHg,8 mmHg,5 mmHg\n"
    assert not unknown_keys(read_order_table(data, "t.csv", entries()).rows[0])
    data = b"order,field,value\n7,THERAPY,irrigation\n7,Drain height,2\n"
    assert not unknown_keys(read_order_table(data, "t.csv", entries()).rows[0])
