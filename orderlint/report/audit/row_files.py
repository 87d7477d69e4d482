"""Writes rows of a table as Parquet, CSV or xlsx, whole or not at all.

The columns stay as they are in Parquet. In the other two a text that a spreadsheet would compute,
as it looks like a formula, gets an apostrophe before it, so that it stays one, and `written` says
in which columns. Never which rows, and never a number.
"""

from __future__ import annotations

import contextlib
import os
import re
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Self

import polars as pl

from orderlint.finding import Refused
from orderlint.report.audit.words import WrittenRows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from types import TracebackType

    import pyarrow as pa
    import pyarrow.parquet as pq
    import xlsxwriter

_CELLS = (pl.String, pl.Categorical, pl.Enum)
# Full-width signs are formulas too where a spreadsheet is set to a language that writes them.
_SIGNS = r"[=+\-@＝＋－＠]"
_BLANKS = r"[\p{Zs}\u200b\u2060\ufeff]*"
STARTS = rf"^({_BLANKS}(?:{_SIGNS}|[\t\r\n]))"
"""How a cell begins that a spreadsheet may compute."""
INNER = rf"([;\t\r\n])({_BLANKS}{_SIGNS})"
"""Where a cell would begin so, were the file read with another separator than the comma."""
LONGEST = 32_767
"""Characters that a cell of an xlsx file can hold."""
MOST_ROWS = 1_048_576
"""Rows that a sheet of an xlsx file can hold, its head included."""

_PYTHON_STARTS, _PYTHON_INNER = (
    re.compile(pattern.replace(r"\p{Zs}", r" \u00a0\u1680\u2000-\u200a\u202f\u205f\u3000"))
    for pattern in (STARTS, INNER)
)


class RowFile:
    """A file of rows, to be used in a `with` statement; it is there once that ends without error.

    Its kind is that of the name: .parquet, .csv or .xlsx. Raises Refused for another, for a column
    that its kind cannot hold, for more rows than a sheet has, and where it cannot be written.
    """

    def __init__(self, file: str) -> None:
        self._file = file
        self._target = Path(file).resolve()
        self._part = self._target.with_name(f".orderlint-{os.urandom(8).hex()}.part")
        self._format: _Parquet | _Csv | _Xlsx | None = None
        self._changed: dict[str, None] = {}
        self._shortened: dict[str, None] = {}
        self._rows = 0
        self._columns: list[str] = []
        if self._target.suffix.lower() not in _FORMATS:
            raise Refused("Rows are written to a file named .parquet, .csv or .xlsx.", file)
        with self._writing():
            _check_writable(self._target)

    @property
    def written(self) -> WrittenRows:
        """What was written so far."""
        return WrittenRows(self._file, self._rows, tuple(self._changed), tuple(self._shortened))

    def write(self, rows: pl.DataFrame) -> None:
        """Add rows, with the same columns each time. No file is made where it is never called."""
        kind = self._target.suffix.lower()
        self._rows += rows.height
        self._columns = self._columns or rows.columns
        if rows.columns != self._columns:
            raise Refused("The tables do not have the same columns.", self._file)
        if kind == ".xlsx" and self._rows >= MOST_ROWS:
            raise Refused(
                f"a sheet holds {MOST_ROWS - 1:,} rows; write .csv or .parquet", self._file
            )
        if kind != ".parquet":
            rows = self._as_cells(rows, kind)
        with self._writing():
            if self._format is None:
                self._format = _FORMATS[kind](self._part, rows)
            self._format.write(rows)

    def _as_cells(self, rows: pl.DataFrame, kind: str) -> pl.DataFrame:
        """The rows with each text defused, and in a sheet nothing but texts."""
        for name, dtype in rows.schema.items():
            if dtype.is_nested() or dtype in {pl.Binary, pl.Object}:
                said = f"The column {name} holds more than texts and numbers. Write .parquet."
                raise Refused(said, self._file)
        texts = [name for name, dtype in rows.schema.items() if isinstance(dtype, _CELLS)]
        safe = rows.with_columns(_defused_column(name, inner=kind == ".csv") for name in texts)
        for name in texts:
            if not safe[name].equals(rows[name].cast(pl.String)):
                self._changed[name] = None
        return self._named(self._fitting(safe) if kind == ".xlsx" else safe)

    def _fitting(self, rows: pl.DataFrame) -> pl.DataFrame:
        """All as texts, none longer than a cell of a sheet can hold."""
        texts = rows.select(pl.all().cast(pl.String))
        for name in texts.columns:
            if (texts[name].str.len_chars() > LONGEST).any():
                self._shortened[name] = None
        return texts.with_columns(pl.all().str.head(LONGEST))

    def _named(self, rows: pl.DataFrame) -> pl.DataFrame:
        """The names of columns are cells too."""
        names = [defused(name, inner=True) for name in rows.columns]
        for name, safe in zip(rows.columns, names, strict=True):
            if name != safe:
                self._changed[name] = None
        return rows.rename(dict(zip(rows.columns, _distinct(names), strict=True)))

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """Refuse what cannot be written."""
        try:
            yield
        except OSError as error:
            reason = f"The rows cannot be written: {error.strerror or error}."
            raise Refused(reason, self._file) from None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            with self._writing():
                if self._format is not None:
                    self._format.close()
                if kind is None and self._format is not None:
                    self._part.replace(self._target)
        finally:
            with contextlib.suppress(FileNotFoundError):
                self._part.unlink()


def with_columns(rows: pl.DataFrame, others: Mapping[str, pl.Series]) -> pl.DataFrame:
    """The rows with other columns after theirs; to a name that they have a number is added."""
    names = _distinct([*rows.columns, *others])[rows.width :]
    return rows.with_columns(
        series.alias(name) for name, series in zip(names, others.values(), strict=True)
    )


def _check_writable(target: Path) -> None:
    """Raise OSError where no file can be put in the place of `target`."""
    if not target.parent.is_dir():
        raise OSError(0, "there is no such folder")
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise OSError(0, "its folder is read-only")
    if target.exists() and not target.is_file():
        raise OSError(0, "it is not an ordinary file")
    if target.exists() and not os.access(target, os.W_OK):
        raise OSError(0, "the file is read-only")


def defused(text: str, *, inner: bool) -> str:
    """`text` as a cell that is never computed; with `inner`, whatever the separator is taken for.

    >>> defused("=1+1", inner=False)
    "'=1+1"
    """
    said = _PYTHON_INNER.sub(r"\1'\2", text) if inner else text
    return _PYTHON_STARTS.sub(r"'\1", said)


def _defused_column(name: str, *, inner: bool) -> pl.Expr:
    said = pl.col(name).cast(pl.String)
    said = said.str.replace_all(INNER, "${1}'${2}") if inner else said
    return said.str.replace(STARTS, "'${1}")


def _distinct(names: Sequence[str]) -> list[str]:
    """The names, the later of two equal ones with a number behind it."""
    found: dict[str, None] = {}
    for name in names:
        other, number = name, 2
        while other in found:
            other, number = f"{name}_{number}", number + 1
        found[other] = None
    return [*found]


class _Parquet:
    def __init__(self, path: Path, rows: pl.DataFrame) -> None:
        from pyarrow import parquet  # noqa: PLC0415 - for this format alone

        self._schema: pa.Schema = _arrow(rows).schema
        self._writer: pq.ParquetWriter = parquet.ParquetWriter(path, self._schema)

    def write(self, rows: pl.DataFrame) -> None:
        from pyarrow import ArrowException  # noqa: PLC0415 - as above

        try:
            table = _arrow(rows).cast(self._schema)
        except (ArrowException, ValueError):
            raise OSError(0, "a column is of another type in another table") from None
        self._writer.write_table(table)

    def close(self) -> None:
        self._writer.close()


def _arrow(rows: pl.DataFrame) -> pa.Table:
    """With texts where a column has no cell yet, since those of a later part may be texts."""
    rows = rows.with_columns(pl.col(pl.Null).cast(pl.String))
    return rows.to_arrow(compat_level=pl.CompatLevel.oldest())


class _Csv:
    """With a byte order mark, by which a spreadsheet knows UTF-8. Texts stand in quotes."""

    def __init__(self, path: Path, _rows: pl.DataFrame) -> None:
        self._stream: IO[bytes] = path.open("xb")
        self._is_first = True

    def write(self, rows: pl.DataFrame) -> None:
        rows.write_csv(
            self._stream,
            include_bom=self._is_first,
            include_header=self._is_first,
            quote_style="non_numeric",
            line_terminator="\r\n",
        )
        self._is_first = False

    def close(self) -> None:
        self._stream.close()


class _Xlsx:
    """Every cell as a text. What is not written is an empty cell."""

    def __init__(self, path: Path, rows: pl.DataFrame) -> None:
        from xlsxwriter import Workbook  # noqa: PLC0415 - for this format alone

        options = {
            "constant_memory": True,
            "tmpdir": str(path.parent),
            "strings_to_formulas": False,
            "strings_to_numbers": False,
            "strings_to_urls": False,
        }
        self._book: xlsxwriter.Workbook = Workbook(str(path), options)
        self._sheet: Any = self._book.add_worksheet("rows")
        self._next = 0
        self._put(rows.columns)

    def write(self, rows: pl.DataFrame) -> None:
        for row in rows.iter_rows():
            self._put(row)

    def _put(self, cells: Sequence[str | None]) -> None:
        for column, text in enumerate(cells):
            if text is not None:
                self._sheet.write_string(self._next, column, text)
        self._next += 1

    def close(self) -> None:
        self._book.close()


_FORMATS: Mapping[str, type[_Parquet] | type[_Csv] | type[_Xlsx]] = {
    ".parquet": _Parquet,
    ".csv": _Csv,
    ".xlsx": _Xlsx,
}
