"""The settings of many rows as columns: which class the cell of each row has, by path.

Refused rows are told apart here. Never a rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from orderlint.audit.text_classes import ABSENT, TextClasses

if TYPE_CHECKING:
    from collections.abc import Mapping


class Cells(NamedTuple):
    """The cells of one path: for each row the number of its text among `texts`, null if absent.

    No text stands twice in `texts`.
    """

    codes: pl.Series
    texts: pl.Series


class Column(NamedTuple):
    """The classes of the cells of one path: `codes` are numbers of `of_code`, one a row.

    `present` are the classes that a row may have.
    """

    codes: pl.Series
    of_code: pl.Series
    present: tuple[int, ...]

    def spread(self, of_class: pl.Series) -> pl.Series:
        """A value for each row, from one for each class."""
        return of_class.gather(self.of_code).gather(self.codes)

    def filtered(self, keep: pl.Series) -> Column:
        """The rows that are kept."""
        return self._replace(codes=self.codes.filter(keep))


def column_of(cells: Cells, of_text: pl.Series) -> Column:
    """The column of some cells, from the class of each of their texts."""
    texts = len(cells.texts)
    of_code = pl.concat([of_text.cast(pl.UInt32), pl.Series([ABSENT], dtype=pl.UInt32)])
    codes = cells.codes.cast(pl.UInt32)
    found = set(of_text.unique().to_list())
    if codes.null_count():
        codes = codes.fill_null(texts)
        found.add(ABSENT)
    return Column(codes, of_code, tuple(sorted(found)))


@dataclass(frozen=True, slots=True)
class OrderRows:
    """Rows that are all orders. `columns` has the paths that some column holds, sections too.

    A path without a column is absent in each row. `written` are the columns as the cells alone have
    them, before one cell makes the setting of another unreadable. `places` has the number of each
    row in its part, from 0. `numbers` has the instants of times, in
    milliseconds since 1970 UTC, null unless known; `offsets` the offsets that they are written
    with, in seconds.
    """

    count: int
    classes: Mapping[str, TextClasses]
    columns: Mapping[str, Column]
    written: Mapping[str, Column]
    places: pl.Series
    numbers: Mapping[str, pl.Series]
    offsets: Mapping[str, pl.Series]

    def present(self, path: str) -> tuple[int, ...]:
        """The classes that a row may have at a path."""
        column = self.columns.get(path)
        return (ABSENT,) if column is None else column.present

    def filtered(self, keep: pl.Series) -> OrderRows:
        """The rows that are kept."""
        columns = {path: column.filtered(keep) for path, column in self.columns.items()}
        is_same = self.written is self.columns
        return OrderRows(
            int(keep.sum()),
            self.classes,
            columns,
            columns if is_same else {p: each.filtered(keep) for p, each in self.written.items()},
            self.places.filter(keep),
            {path: series.filter(keep) for path, series in self.numbers.items()},
            {path: series.filter(keep) for path, series in self.offsets.items()},
        )
