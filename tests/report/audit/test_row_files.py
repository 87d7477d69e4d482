"""Rows come out as they went in, whole, and nothing in them is computed by a spreadsheet."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
import zipfile

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.audit.hostile_cells import ACTIVE, INNER, QUIET
from report.audit.made import ABOVE, result
from report.audit.made import RULES as RULEBOOK

from orderlint.finding import Refused
from orderlint.report.audit import row_files
from orderlint.report.audit.row_files import RowFile, defused, with_columns
from orderlint.report.audit.samples import BLANKS, write_sheet
from orderlint.report.audit.words import written_words

KINDS = (".parquet", ".csv", ".xlsx")
SIGNS = "=+-@＝＋－＠\t\r\n"
CELLS = (*ACTIVE, *INNER, *QUIET)
SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def written(path, *frames):
    with RowFile(str(path)) as out:
        for frame in frames:
            out.write(frame)
    return out.written


def csv_cells(path):
    return [*csv.reader(io.StringIO(path.read_bytes().decode("utf-8-sig"), newline=""))]


def xlsx_cells(path):
    """The cells of the sheet by their place; every one must be a text."""
    with zipfile.ZipFile(path) as book:
        sheet = ET.fromstring(book.read("xl/worksheets/sheet1.xml"))
        assert not [name for name in book.namelist() if "rels" in name and "sheet" in name]
    assert not [*sheet.iter(f"{SHEET}f")]
    cells = [*sheet.iter(f"{SHEET}c")]
    assert {cell.get("t") for cell in cells} <= {"inlineStr"}
    return {cell.get("r"): "".join(t.text or "" for t in cell.iter(f"{SHEET}t")) for cell in cells}


@pytest.mark.parametrize("text", ACTIVE)
def test_what_a_spreadsheet_computes_gets_an_apostrophe(text):
    assert defused(text, inner=False) == f"'{text}"
    assert defused(text, inner=True).startswith("'")


@pytest.mark.parametrize("text", INNER)
def test_what_would_begin_a_cell_by_another_separator_gets_one_too(text):
    assert defused(text, inner=False) == text
    assert "'" in defused(text, inner=True)


@pytest.mark.parametrize("text", QUIET)
def test_what_is_text_stays_as_it_is(text):
    assert defused(text, inner=True) == text


@given(st.text(st.sampled_from([*SIGNS, "a", "1", ";", " ", "'", "\u00a0"]), max_size=8))
def test_polars_defuses_as_python_does(text):
    frame = pl.DataFrame({"it": [text]})
    for inner in (True, False):
        found = frame.select(row_files._defused_column("it", inner=inner)).item()
        assert found == defused(text, inner=inner)


@given(st.text(st.sampled_from([*SIGNS, "a", "1", ";", " ", "\u00a0"]), max_size=8))
def test_nothing_that_is_defused_begins_a_cell_with_a_sign(text):
    said = defused(text, inner=True)
    for cell in said.replace("\t", ";").replace("\r", ";").replace("\n", ";").split(";"):
        assert not cell.strip(" \u00a0").startswith(tuple("=+-@＝＋－＠"))


def test_parquet_keeps_what_stands_in_the_table_and_its_types(tmp_path):
    frame = pl.DataFrame(
        {"text": [*CELLS, None], "n": range(len(CELLS) + 1), "l": [[1]] * (len(CELLS) + 1)}
    )
    told = written(tmp_path / "rows.parquet", frame.head(5), frame.slice(5))
    assert pl.read_parquet(tmp_path / "rows.parquet").equals(frame)
    assert told == (str(tmp_path / "rows.parquet"), frame.height, (), ())


def test_a_column_may_get_its_first_cell_late(tmp_path):
    written(tmp_path / "rows.parquet", pl.DataFrame({"a": [None]}), pl.DataFrame({"a": ["b"]}))
    assert pl.read_parquet(tmp_path / "rows.parquet")["a"].to_list() == [None, "b"]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("later", [{"b": [1]}, {"a": [1], "b": [1]}])
def test_tables_of_other_columns_are_refused(later, kind, tmp_path):
    with pytest.raises(Refused, match="do not have the same columns"):
        written(tmp_path / f"rows{kind}", pl.DataFrame({"a": [1]}), pl.DataFrame(later))
    with pytest.raises(Refused, match="of another type"):
        written(tmp_path / "rows.parquet", pl.DataFrame({"a": [1]}), pl.DataFrame({"a": ["b"]}))
    assert not [*tmp_path.iterdir()]


def test_csv_has_each_cell_and_says_which_columns_are_changed(tmp_path):
    frame = pl.DataFrame({"quiet": ["a"] * len(CELLS), "text": CELLS, "n": [-1] * len(CELLS)})
    told = written(tmp_path / "rows.csv", frame.head(3), frame.slice(3))
    head, *rows = csv_cells(tmp_path / "rows.csv")
    assert head == ["quiet", "text", "n"]
    assert [row[1] for row in rows] == [defused(text, inner=True) for text in CELLS]
    assert {row[2] for row in rows} == {"-1"}  # a number is no text
    assert told.changed == ("text",)


def test_a_sheet_holds_nothing_but_texts(tmp_path):
    frame = pl.DataFrame({"text": [*CELLS, None], "n": [-1] * (len(CELLS) + 1)})
    told = written(tmp_path / "rows.xlsx", frame.head(3), frame.slice(3))
    cells = xlsx_cells(tmp_path / "rows.xlsx")
    # XML has one character for a line's end, and xlsx writes others by their number.
    ends = {"\r": "_x000D_", "_x0041_": "_x005F_x0041_"}
    for row, text in enumerate(CELLS, 2):
        said = defused(text, inner=False)
        for end, escape in ends.items():
            said = said.replace(end, escape)
        assert cells[f"A{row}"] == said
        assert cells[f"B{row}"] == "-1"
    assert f"A{len(CELLS) + 2}" not in cells
    assert told.changed == ("text",)


@pytest.mark.parametrize("kind", [".csv", ".xlsx"])
def test_the_name_of_a_column_is_a_cell(kind, tmp_path):
    told = written(tmp_path / f"rows{kind}", pl.DataFrame({"=1+1": ["a"], "'=1+1": ["b"]}))
    if kind == ".csv":
        assert csv_cells(tmp_path / "rows.csv")[0] == ["'=1+1", "'=1+1_2"]
    else:
        assert xlsx_cells(tmp_path / "rows.xlsx")["A1"] == "'=1+1"
    assert told.changed == ("=1+1",)


@pytest.mark.parametrize("kind", KINDS)
def test_a_column_that_is_added_has_a_name_of_its_own(kind, tmp_path):
    frame = with_columns(pl.DataFrame({"a": ["b"]}), {"a": pl.Series(["c"]), "d": pl.Series([1])})
    assert frame.row(0) == ("b", "c", 1)
    assert frame.columns == ["a", "a_2", "d"]
    written(tmp_path / f"rows{kind}", frame)


def test_what_is_too_long_for_a_cell_is_cut_and_said(tmp_path):
    long = "x" * 40_000
    told = written(tmp_path / "rows.xlsx", pl.DataFrame({"a": [long], "b": ["short"]}))
    assert len(xlsx_cells(tmp_path / "rows.xlsx")["A2"]) == row_files.LONGEST
    assert told.shortened == ("a",)
    assert "rows.xlsx, column a, texts were too long" in " ".join(written_words(told))
    assert written(tmp_path / "rows.csv", pl.DataFrame({"a": [long]})).shortened == ()


def test_what_a_kind_cannot_hold_is_refused_and_leaves_nothing(tmp_path, monkeypatch):
    monkeypatch.setattr(row_files, "MOST_ROWS", 3)
    nested = pl.DataFrame({"a": [[1]]})
    for name, frame in (
        ("rows.csv", nested),
        ("rows.xlsx", nested),
        ("bytes.csv", pl.DataFrame({"a": [b"\xff"]})),
        ("rows.xlsx", pl.DataFrame({"a": ["b"] * 3})),
    ):
        with pytest.raises(Refused) as refused:
            written(tmp_path / name, frame)
        assert str(tmp_path / name) in str(refused.value)
    with pytest.raises(Refused, match="named"):
        RowFile(str(tmp_path / "rows.ods"))
    assert not [*tmp_path.iterdir()]


def test_where_no_file_can_be_put_is_refused_at_once(tmp_path):
    (tmp_path / "folder.csv").mkdir()
    for name in ("no-folder/rows.csv", "folder.csv", "folder.csv/" + "a" * 300 + ".csv"):
        path = tmp_path / name
        with pytest.raises(Refused, match="cannot be written"):
            written(path, pl.DataFrame({"a": ["b"]}))
    assert [*tmp_path.rglob("*")] == [tmp_path / "folder.csv"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_is_there_whole_or_as_it_was(kind, tmp_path):
    path = tmp_path / f"rows{kind}"
    path.write_text("before", encoding="utf-8")

    def interrupted():
        with RowFile(str(path)) as out:
            out.write(pl.DataFrame({"a": ["b"]}))
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert path.read_text(encoding="utf-8") == "before"
    assert [*tmp_path.iterdir()] == [path]


@pytest.mark.parametrize("kind", [".csv", ".xlsx"])
def test_a_sheet_for_a_reviewer_has_the_sample_and_blank_columns(kind, tmp_path):
    path = tmp_path / f"sheet{kind}"
    told = write_sheet(result(), RULEBOOK, str(path))
    assert told.rows == 2
    assert told.changed == ("treat_above",)
    if kind == ".csv":
        head, first, _ = csv_cells(path)
        row = dict(zip(head, first, strict=True))
        assert row["rule"] == ABOVE
        assert row["treat_above"] == "'=8 mmHg"
        assert row["drainage.height"] == ""
        assert head[-len(BLANKS) :] == [*BLANKS]
        assert not any(row[blank] for blank in BLANKS)
        assert (row["file"], row["row"]) == ("orders-2025.csv", "17")
