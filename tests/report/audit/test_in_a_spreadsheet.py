"""Files of rows opened in LibreOffice: no cell is computed, linked or taken for a number.

Deselected by default; `.ci/spreadsheet` brings what they need and runs them.
"""

from __future__ import annotations

import subprocess
import xml.etree.ElementTree as ET

import polars as pl
import pytest
from report.audit.hostile_cells import ACTIVE, INNER, QUIET

from orderlint.report.audit.row_files import RowFile

pytestmark = pytest.mark.spreadsheet

CELLS = (*ACTIVE, *INNER, *QUIET)
COMMA, SEMICOLON, TAB = 44, 59, 9
NAMES = {
    "table": "urn:oasis:names:tc:opendocument:xmlns:table:1.0",
    "office": "urn:oasis:names:tc:opendocument:xmlns:office:1.0",
    "text": "urn:oasis:names:tc:opendocument:xmlns:text:1.0",
    "xlink": "http://www.w3.org/1999/xlink",
}
VALUE, FORMULA = f"{{{NAMES['office']}}}value-type", f"{{{NAMES['table']}}}formula"


@pytest.fixture(scope="module")
def profile(tmp_path_factory):
    return tmp_path_factory.mktemp("profile")


def opened(path, profile, separator=COMMA):
    """The cells that are not empty, as LibreOffice has them after it has opened a file."""
    out = path.parent / f"opened-{separator}"
    # Of the CSV filter: separator, quotation mark, UTF-8, from line 1.
    reading = [f"--infilter=Text - txt - csv (StarCalc):{separator},34,76,1"]
    subprocess.run(
        [
            *("soffice", "--headless", f"-env:UserInstallation={profile.as_uri()}"),
            *(reading if path.suffix == ".csv" else []),
            *("--convert-to", "fods", "--outdir", out, path),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    root = ET.parse(out / f"{path.stem}.fods").getroot()
    assert not [*root.iterfind(".//text:a", NAMES)]
    cells = root.iterfind(".//table:table-cell", NAMES)
    return [cell for cell in cells if cell.get(VALUE)]


def kinds(cells):
    return {cell.get(VALUE) for cell in cells}, [
        cell.get(FORMULA) for cell in cells if FORMULA in cell.attrib
    ]


def said(cell):
    return "\n".join("".join(part.itertext()) for part in cell.iterfind("text:p", NAMES))


def rows(path):
    frame = pl.DataFrame({"text": CELLS, "=1+1": CELLS})
    with RowFile(str(path)) as out:
        out.write(frame)
    return path


def test_the_same_texts_are_computed_where_nothing_is_done(tmp_path, profile):
    path = tmp_path / "raw.csv"
    pl.DataFrame({"text": CELLS}).write_csv(path, quote_style="always")
    found, formulas = kinds(opened(path, profile))
    assert "of:=1+1" in formulas
    assert "float" in found
    path = tmp_path / "raw-semicolon.csv"
    pl.DataFrame({"a": ["x"], "text": ["hold;=1+1"]}).write_csv(path)
    assert "of:=1+1" in kinds(opened(path, profile, SEMICOLON))[1]


@pytest.mark.parametrize("separator", [COMMA, SEMICOLON, TAB])
def test_no_cell_of_a_csv_file_is_computed(separator, tmp_path, profile):
    cells = opened(rows(tmp_path / "rows.csv"), profile, separator)
    _, formulas = kinds(cells)
    assert formulas == []
    assert len(cells) >= len(CELLS)


def test_every_text_of_a_sheet_is_text_in_it(tmp_path, profile):
    cells = opened(rows(tmp_path / "rows.xlsx"), profile)
    assert kinds(cells) == ({"string"}, [])
    shown = [said(cell) for cell in cells]
    for text in ("'=1+1", "'-5", "010", "1e3", "2026-03-02", "_x0041_", "TRUE", "'=DDE(1;2;3)"):
        assert text in shown
