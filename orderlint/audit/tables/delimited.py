"""CSV files as tables: comma-separated, as RFC 4180 has it, with names in the first row.

Every cell is text as it stands; nothing is guessed of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyarrow as pa
from pyarrow import csv

from orderlint.audit.tables.table import TableColumn, after, checked_columns
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

_BLOCK = 16 * 1024 * 1024


class CsvTable:
    """A CSV file."""

    names_vary = False

    def __init__(self, name: str) -> None:
        self.name = name
        self._uneven: list[int] = []
        with self._opened(None) as reader:
            names = reader.schema.names
        columns = (TableColumn(each, "text", is_text=True) for each in names)
        self.columns = checked_columns(columns, name)

    def batches(
        self, names: Sequence[str], floats: Collection[str] = (), start: int = 0
    ) -> Iterator[pa.RecordBatch]:
        """The rows of some columns in order, from `start` on."""
        del floats  # every cell is text
        with self._opened(names) as reader:
            yield from after(self._read(reader), start)

    def _read(self, reader: csv.CSVStreamingReader) -> Iterator[pa.RecordBatch]:
        while True:
            try:
                yield reader.read_next_batch()
            except StopIteration:
                return
            except pa.ArrowException as error:
                raise self._refusal(error) from None

    def _opened(self, names: Sequence[str] | None) -> csv.CSVStreamingReader:
        types = {name: pa.string() for name in names or ()}
        if names is None:
            convert = csv.ConvertOptions(check_utf8=False, null_values=[])
        else:
            convert = csv.ConvertOptions(
                column_types=types, include_columns=[*names], null_values=[]
            )
        try:
            return csv.open_csv(
                self.name,
                read_options=csv.ReadOptions(block_size=_BLOCK),
                parse_options=csv.ParseOptions(
                    newlines_in_values=True, invalid_row_handler=self._uneven_row
                ),
                convert_options=convert,
            )
        except pa.ArrowException as error:
            raise self._refusal(error) from None

    def _uneven_row(self, row: csv.InvalidRow) -> str:
        self._uneven.append(row.number or 0)
        return "error"

    def _refusal(self, error: pa.ArrowException) -> Refused:
        """Why the file cannot be read, without a word of what stands in it."""
        if self._uneven:
            at = f" (row {self._uneven[0]})" if self._uneven[0] else ""
            return Refused(f"A row has more or fewer cells than the first{at}.", self.name)
        if "UTF8" in str(error) or "utf8" in str(error):
            return Refused("The file is not UTF-8 text. Save it as UTF-8.", self.name)
        if "Empty CSV" in str(error):
            return Refused("The file is empty.", self.name)
        return Refused("This cannot be read as CSV.", self.name)
