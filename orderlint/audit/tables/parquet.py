"""Parquet files as tables. Never what a text means."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyarrow as pa
import pyarrow.parquet as pq

from orderlint.audit.tables.table import TableColumn, after, arrow_column, checked_columns
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
            with pq.ParquetFile(name) as file:  # of many files none is held open
                schema = file.schema_arrow
                self.rows: int | None = file.metadata.num_rows
        except (pa.ArrowException, OSError, ValueError):
            raise Refused("This is not a whole Parquet file.", name) from None
        self.columns: tuple[TableColumn, ...] = checked_columns(map(arrow_column, schema), name)

    def batches(
        self, names: Sequence[str], floats: Collection[str] = (), start: int = 0
    ) -> Iterator[pa.RecordBatch]:
        """The rows of some columns in order, from `start` on."""
        del floats  # the type of a column tells
        texts = {column.name for column in self.columns if "string" in column.kind}
        wanted = [name for name in names if name in texts]
        try:
            with pq.ParquetFile(self.name, read_dictionary=wanted) as file:
                groups, before = _groups_after(file, start)
                found = file.iter_batches(_BATCH, row_groups=groups, columns=[*names])
                yield from after(found, start - before)
        except (pa.ArrowException, OSError, ValueError):
            raise Refused("This Parquet file cannot be read to its end.", self.name) from None


def _groups_after(file: pq.ParquetFile, start: int) -> tuple[list[int], int]:
    """The groups of rows that do not end before `start`, and the rows of those that do."""
    before = 0
    for number in range(file.num_row_groups):
        rows = file.metadata.row_group(number).num_rows
        if before + rows > start:
            return [*range(number, file.num_row_groups)], before
        before += rows
    return [], before
