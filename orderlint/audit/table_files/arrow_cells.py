"""Cells of Arrow data as texts, each different one once; those of settings with their units.

A number, a date or a time has its plain text. A float has none, but the shortest that is read back
as the same float. Never what a text means.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from math import isfinite
from typing import TYPE_CHECKING

import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from orderlint.audit.rows import Cells

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from orderlint.tables.table_map import MappedColumn


def cells_by_path(part: pa.Table, mapped: Iterable[MappedColumn]) -> Mapping[str, Cells]:
    """The cells of each path in the rows of a part."""
    return {each.path: _mapped(part, each) for each in mapped}


def _mapped(part: pa.Table, mapped: MappedColumn) -> Cells:
    values = cells_of(part.column(mapped.column), mapped.absent)
    if mapped.unit is not None:
        return Cells(values.codes, values.texts + f" {mapped.unit}")
    if mapped.unit_column is None:
        return values
    return _with_units(values, cells_of(part.column(mapped.unit_column), mapped.absent))


def _with_units(values: Cells, units: Cells) -> Cells:
    """Each number with its unit after a blank; one without a unit stands alone."""
    pairs = pl.DataFrame({"value": values.codes, "unit": units.codes})
    different = pairs.filter(pl.col("value").is_not_null()).unique().with_row_index("code")
    number = values.texts.gather(different["value"])
    unit = units.texts.gather(different["unit"])
    texts = number + pl.select((" " + pl.lit(unit)).fill_null("")).to_series()
    codes = pairs.join(
        different, on=["value", "unit"], how="left", nulls_equal=True, maintain_order="left"
    )["code"]
    # `5` `mmHg` and `5 mmHg` alone are the same.
    numbers, once = _each_once(texts)
    return Cells(numbers.gather(codes), once)


def cells_of(column: pa.ChunkedArray, absent: Collection[str] = ()) -> Cells:
    """The cells of a column. One that is empty, or one of `absent`, is null."""
    if not pa.types.is_dictionary(column.type):
        column = pc.dictionary_encode(column)
    whole = column.unify_dictionaries().combine_chunks()
    array = whole.chunk(0) if isinstance(whole, pa.ChunkedArray) else whole
    codes = pl.Series(pl.from_arrow(array.indices)).cast(pl.UInt32)
    return _without_absent(codes, _texts(array.dictionary), absent)


def _without_absent(codes: pl.Series, texts: pl.Series, absent: Collection[str]) -> Cells:
    """The cells with null in place of what is absent, each text that stands in some row once.

    Rows that are a part of more share the texts of all.
    """
    is_used = pl.Series([False], dtype=pl.Boolean).new_from_index(0, len(texts))
    is_used = is_used.scatter(codes.drop_nulls().unique(), True)
    keep = is_used & ~texts.is_in(["", *absent]).fill_null(value=True)
    numbers, different = _each_once(texts.filter(keep))
    if len(different) == len(texts):
        return Cells(codes, texts)
    nothing = pl.Series([None], dtype=pl.UInt32).new_from_index(0, len(texts))
    of_code = nothing.scatter(keep.arg_true(), numbers)
    return Cells(of_code.gather(codes), different)


def _each_once(texts: pl.Series) -> tuple[pl.Series, pl.Series]:
    """For each text its number among the different ones, and these."""
    different = texts.unique(maintain_order=True)
    if len(different) == len(texts):
        return pl.int_range(len(texts), dtype=pl.UInt32, eager=True), texts
    of_text = dict(zip(different.to_list(), range(len(different)), strict=True))
    return pl.Series([of_text[text] for text in texts.to_list()], dtype=pl.UInt32), different


def _texts(values: pa.Array) -> pl.Series:
    kind = values.type
    if pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind):
        return pl.Series(pl.from_arrow(values), dtype=pl.String)
    return pl.Series([text_of(value) for value in values.to_pylist()], dtype=pl.String)


def text_of(value: object) -> str | None:
    """The text of a value that is not text."""
    if value is None:
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return shortest_text(value)
    if isinstance(value, datetime):
        return _instant(value)
    if isinstance(value, date):
        return value.isoformat()
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def shortest_text(value: float) -> str:
    """The shortest decimal number that is read back as this float: 60, 0.1; no exponent.

    >>> shortest_text(60.0), shortest_text(0.1), shortest_text(1e-7)
    ('60', '0.1', '0.0000001')
    """
    if not isfinite(value):
        return str(value)
    return format(Decimal(repr(value)), "f").removesuffix(".0")


def _instant(value: datetime) -> str:
    """A time with its offset from UTC where it has one, in milliseconds where it has such."""
    if value.tzinfo is not None:
        value = value.astimezone(UTC)
    text = value.isoformat(timespec="milliseconds" if value.microsecond else "seconds")
    return text.replace("+00:00", "Z")
