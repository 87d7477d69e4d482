"""`verify --table`: a report for each order, a summary, and the worst status."""

from __future__ import annotations

import json

import pytest
from running import run

EMPTY = "document: table-map\nformat: 1\n"


@pytest.fixture
def table(tmp_path):
    (tmp_path / "map.yaml").write_text(EMPTY)
    file = tmp_path / "orders.csv"
    file.write_text(
        "id,therapy,treat_above,seen by\na,drainage,,x\nb,irrigation,8,y\nc,irrig\x00,8,z\n"
    )
    return file


def test_each_order_has_a_report_and_the_worst_status_counts(table, tmp_path):
    ran = run("verify", "--table", tmp_path / "map.yaml", table)
    assert ran.status == 2
    assert "2 orders: 2 DO NOT START – CALL, 1 row not checked." in ran.text
    assert "seen by" in ran.err
    assert f"{table}:4" in ran.err
    assert ran.text.count("Verdict:") == 2


def test_in_json_each_order_is_a_document(table, tmp_path):
    ran = run("verify", "--format", "json", "--table", tmp_path / "map.yaml", table)
    report = json.loads(ran.out)
    assert [each["file"] for each in report["documents"]] == [f"{table}:2", f"{table}:3"]
    assert len(report["refused"]) == 1
    places = [f["place"] for f in report["documents"][1]["findings"] if f["path"] == "treat_above"]
    assert (places[0]["line"], places[0]["column"]) == (3, 3)


def test_a_table_can_come_from_standard_input_and_be_a_page(tmp_path):
    table_map = tmp_path / "map.yaml"
    table_map.write_text(EMPTY)
    ran = run("verify", "--table", table_map, "-", stdin=b"therapy\nmonitoring\n")
    assert (ran.status, "1 order: 1 DO NOT START" in ran.text) == (1, True)
    page = run("verify", "--format", "html", "--table", table_map, "-", stdin=b"therapy\nx\n")
    assert b"<!DOCTYPE html>" in page.out


def test_a_map_that_is_refused_stops_it(table, tmp_path):
    other = tmp_path / "other.yaml"
    for text in ("document: order\nformat: 1\n", f"{EMPTY}columns: {{nowhere: x}}\n", "a: ["):
        other.write_text(text)
        ran = run("verify", "--table", other, table)
        assert (ran.status, ran.out) == (2, b"")
        assert str(other) in ran.err
