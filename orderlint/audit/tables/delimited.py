"""CSV files as tables: comma-separated, as RFC 4180 has it, with names in the first row.

Every cell is text as it stands; nothing is guessed of it.
"""

from __future__ import annotations

import re
from csv import Error, reader
from typing import TYPE_CHECKING

import pyarrow as pa
from pyarrow import csv as arrow_csv

from orderlint.audit.tables.table import TableColumn, after, checked_columns
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

_UNEVEN = re.compile(r"(?:Row #(\d+): )?Expected \d+ columns, got \d+")
_BLOCK = 16 * 1024 * 1024


class CsvTable:
    """A CSV file."""

    names_vary = False
    rows = None

    def __init__(self, name: str) -> None:
        self.name = name
        columns = (TableColumn(each, "text", is_text=True) for each in self._names())
        self.columns = checked_columns(columns, name)

    def _names(self) -> list[str]:
        """The first row. Arrow would read ahead for it, and not end with this process."""
        try:
            with open(self.name, encoding="utf-8-sig", newline="") as file:  # noqa: PTH123
                return next(reader(file, strict=True), [])
        except (UnicodeDecodeError, Error):
            raise Refused(
                "The first row of the file is no row of names in CSV.", self.name
            ) from None

    def batches(
        self, names: Sequence[str], floats: Collection[str] = (), start: int = 0
    ) -> Iterator[pa.RecordBatch]:
        """The rows of some columns in order, from `start` on."""
        del floats  # every cell is text
        with self._opened(names) as opened:
            yield from after(self._read(opened), start)

    def _read(self, opened: arrow_csv.CSVStreamingReader) -> Iterator[pa.RecordBatch]:
        while True:
            try:
                yield opened.read_next_batch()
            except StopIteration:
                return
            except pa.ArrowException as error:
                raise self._refusal(error) from None

    def _opened(self, names: Sequence[str]) -> arrow_csv.CSVStreamingReader:
        types = {name: pa.string() for name in names}
        convert = arrow_csv.ConvertOptions(
            column_types=types, include_columns=[*names], null_values=[]
        )
        try:
            return arrow_csv.open_csv(
                self.name,
                read_options=arrow_csv.ReadOptions(block_size=_BLOCK),
                # A handler of rows that cannot be read would outlive the interpreter in a thread.
                parse_options=arrow_csv.ParseOptions(newlines_in_values=True),
                convert_options=convert,
            )
        except pa.ArrowException as error:
            raise self._refusal(error) from None

    def _refusal(self, error: pa.ArrowException) -> Refused:
        """Why the file cannot be read, without a word of what stands in it."""
        if uneven := _UNEVEN.search(str(error)):
            at = f" (row {uneven[1]} of the file)" if uneven[1] else ""
            return Refused(f"A row has more or fewer cells than the first{at}.", self.name)
        if "UTF8" in str(error) or "utf8" in str(error):
            return Refused("The file is not UTF-8 text. Save it as UTF-8.", self.name)
        if "Empty CSV" in str(error):
            return Refused("The file is empty.", self.name)
        return Refused("This cannot be read as CSV.", self.name)
