"""A table as every source gives it: its columns, and its rows in chunks.

Never how a kind of file is read, and never what a text means.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import pyarrow as pa

from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Sequence

    Batches: TypeAlias = Callable[[Sequence[str], Collection[str], int], Iterator[pa.RecordBatch]]


class TableColumn(NamedTuple):
    """A column: its name, and the type of its cells in the words of its source.

    `is_float` is true where cells may be floats, which have no text of their own; `is_text` where
    the source has a text, or a type with one plain text for each value.
    """

    name: str
    kind: str
    is_text: bool
    is_float: bool = False


class Table(NamedTuple):
    """One file, or one table of a database, under the name of its file as it was given.

    `batches` gives the rows of some columns in order, of which some may hold floats, that are read
    as their shortest text, and from a row on. It raises Refused where they cannot be read. `rows`
    is how many there are, None where that is not known before. With `names_vary`, a column that it
    does not have is one without cells, as of lines of JSON.
    """

    name: str
    columns: tuple[TableColumn, ...]
    batches: Batches
    rows: int | None = None
    names_vary: bool = False


def chunks(batches: Iterable[pa.RecordBatch], size: int) -> Iterator[pa.Table]:
    """The rows of some batches in tables of `size` rows each; the last may have fewer."""
    kept: list[pa.RecordBatch] = []
    rows = 0
    for batch in batches:
        rest = batch
        while rows + rest.num_rows >= size:
            kept.append(rest.slice(0, size - rows))
            yield pa.Table.from_batches(kept)
            rest = rest.slice(size - rows)
            kept, rows = [], 0
        if rest.num_rows:
            kept.append(rest)
            rows += rest.num_rows
    if kept:
        yield pa.Table.from_batches(kept)


def after(batches: Iterable[pa.RecordBatch], start: int) -> Iterator[pa.RecordBatch]:
    """The rows of some batches without the first `start`."""
    for batch in batches:
        yield batch.slice(min(start, batch.num_rows))
        start = max(0, start - batch.num_rows)


def checked_columns(columns: Iterable[TableColumn], file: str) -> tuple[TableColumn, ...]:
    """The columns. Raises Refused where there is none, or a name stands twice."""
    found: dict[str, TableColumn] = {}
    for column in columns:
        if column.name in found:
            raise Refused(f"Two columns have the name {column.name!r}.", file)
        found[column.name] = column
    if not found:
        raise Refused("The table has no columns.", file)
    return tuple(found.values())


def floats_refused(column: str) -> str:
    """Why a column of floats is refused."""
    return (
        f"The column {column} holds floats, which do not say how a number was written. Map it with "
        "shortest_text: yes to have each read as its shortest text."
    )


def arrow_column(field: pa.Field) -> TableColumn:
    """A column of Arrow data."""
    kind = field.type.value_type if pa.types.is_dictionary(field.type) else field.type
    return TableColumn(field.name, str(kind), _has_text(kind), pa.types.is_floating(kind))


def _has_text(kind: pa.DataType) -> bool:
    is_text = pa.types.is_string(kind) or pa.types.is_large_string(kind)
    is_text = is_text or pa.types.is_string_view(kind) or pa.types.is_null(kind)
    is_number = pa.types.is_integer(kind) or pa.types.is_decimal(kind)
    is_time = pa.types.is_timestamp(kind) or pa.types.is_date(kind)
    return bool(is_text or is_number or is_time or pa.types.is_boolean(kind))
