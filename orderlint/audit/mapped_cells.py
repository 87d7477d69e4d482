"""The cells of mapped columns by the path of their setting, units joined to their numbers.

Never what a text means.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit.rows import Cells
from orderlint.audit.tables.arrow_cells import cells_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pyarrow as pa

    from orderlint.tables.table_map import MappedColumn


def cells_by_path(part: pa.Table, mapped: Iterable[MappedColumn]) -> Mapping[str, Cells]:
    """The cells of each path in the rows of a part."""
    return {each.path: _cells(part, each) for each in mapped}


def _cells(part: pa.Table, mapped: MappedColumn) -> Cells:
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
    joined = pairs.join(
        different, on=["value", "unit"], how="left", nulls_equal=True, maintain_order="left"
    )
    return _each_once(joined["code"].cast(pl.UInt32), texts)


def _each_once(codes: pl.Series, texts: pl.Series) -> Cells:
    """The cells with each text once: `5` `mmHg` and `5 mmHg` alone are the same."""
    if texts.n_unique() == len(texts):
        return Cells(codes, texts)
    kept = texts.unique(maintain_order=True)
    numbers = dict(zip(kept.to_list(), range(len(kept)), strict=True))
    of_code = pl.Series([numbers[text] for text in texts.to_list()], dtype=pl.UInt32)
    return Cells(of_code.gather(codes), kept)
