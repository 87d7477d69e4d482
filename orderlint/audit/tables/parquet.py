"""Parquet files as tables. Never what a text means."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyarrow as pa
import pyarrow.parquet as pq

from orderlint.audit.tables.table import TableColumn, arrow_column, checked_columns
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

MAGIC = b"PAR1"
_BATCH = 65_536


class ParquetTable:
    """A Parquet file."""

    names_vary = False

    def __init__(self, name: str) -> None:
        self.name = name
        try:
            self._file = pq.ParquetFile(name)
        except (pa.ArrowException, OSError, ValueError):
            raise Refused("This is not a whole Parquet file.", name) from None
        schema = self._file.schema_arrow
        self.columns: tuple[TableColumn, ...] = checked_columns(map(arrow_column, schema), name)

    def batches(
        self, names: Sequence[str], floats: Collection[str] = ()
    ) -> Iterator[pa.RecordBatch]:
        """All rows of some columns, in order."""
        del floats  # the type of a column tells
        texts = {column.name for column in self.columns if "string" in column.kind}
        file = pq.ParquetFile(self.name, read_dictionary=[n for n in names if n in texts])
        try:
            yield from file.iter_batches(_BATCH, columns=[*names])
        except (pa.ArrowException, OSError, ValueError):
            raise Refused("This Parquet file cannot be read to its end.", self.name) from None
