"""Reads the cells of many rows as orders: which rows are refused, and what the others come to.

Joins texts, classes and times. Never a rule.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from orderlint.audit.instants import InstantReader
from orderlint.audit.rows import Cells, Column, OrderRows, column_of
from orderlint.audit.text_classes import ABSENT, MemoryBudget, TextClasses, read_texts
from orderlint.audit.texts import CellReading, Lists
from orderlint.fields import field_table
from orderlint.reading.limits import TWICE
from orderlint.reading.unicode_checks import LARGEST_FILE
from orderlint.tables.row_document import refusal_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.audit.text_classes import ReadTexts
    from orderlint.order import Leaf

MEMORY_BUDGET = 1_000_000_000
"""Bytes for what is remembered of texts."""
_PLAIN_LABEL = r"^[ -~]{0,19}[!-~][ -~]{0,19}$"
_ROOM_FOR_KEYS = 64 * 1024


class RefusedCell(NamedTuple):
    """Why a row is refused: `row` counts from 0; `path` is '' where several are involved."""

    row: int
    path: str
    reason: str


class RowReader:
    """Reads the cells of part after part. What was read of a text is remembered within `budget`.

    `lists` are the lists of names that conditions look for, by path.
    """

    def __init__(
        self,
        paths: Iterable[str],
        lists: Mapping[str, Lists],
        read: ReadTexts = read_texts,
        budget: int = MEMORY_BUDGET,
    ) -> None:
        table = field_table()
        own = [*dict.fromkeys((*table.section_names, *table.fields))]
        self.paths = sorted(paths, key=own.index)
        self.read_texts = read
        self.budget = MemoryBudget(budget)
        self.classes = {path: TextClasses(path, lists.get(path, ()), self.budget) for path in own}
        self.instants = {
            path: InstantReader(self.classes[path])
            for path, field in table.fields.items()
            if field.kind == "instant"
        }

    def read(
        self, cells: Mapping[str, Cells], count: int
    ) -> tuple[OrderRows, tuple[RefusedCell, ...]]:
        """The rows that are orders, and why the others are refused."""
        columns: dict[str, Column] = {}
        numbers: dict[str, pl.Series] = {}
        offsets: dict[str, pl.Series] = {}
        for path in self.paths:
            if path in self.instants:
                found = self.instants[path].read(cells[path].texts)
                columns[path] = column_of(cells[path], found["class"])
                numbers[path] = found["number"].gather(cells[path].codes)
                offsets[path] = found["offset"].gather(cells[path].codes)
            else:
                columns[path] = column_of(cells[path], self._of_texts(path, cells[path].texts))
        places = pl.int_range(count, dtype=pl.UInt32, eager=True)
        rows = OrderRows(count, self.classes, columns, columns, places, numbers, offsets)
        refused = tuple(self._refused(rows, cells))
        if refused:
            keep = pl.Series([True], dtype=pl.Boolean).new_from_index(0, count)
            keep = keep.scatter([each.row for each in refused], False)
            rows = rows.filtered(keep)
        return self._with_spoilt(rows), refused

    def instants_of(self, cells: Cells) -> pl.Series:
        """The milliseconds since 1970 UTC of cells that are times as `written` is, else null."""
        return self.instants["written"].read(cells.texts)["number"].gather(cells.codes)

    def _of_texts(self, path: str, texts: pl.Series) -> pl.Series:
        """The class of each text."""
        classes = self.classes[path]
        field = field_table().fields.get(path)
        if field is None or field.kind != "label":
            return pl.Series(classes.of_texts(texts.to_list(), self.read_texts), dtype=pl.UInt32)
        # A label is known whatever it says: of those that surely can stand in an order one is read.
        plain = texts.str.contains(_PLAIN_LABEL)
        one = classes.of_texts(texts.filter(plain).head(1).to_list() or [""])[0]
        found = pl.Series([one], dtype=pl.UInt32).new_from_index(0, len(texts))
        others = (~plain).arg_true()
        return found.scatter(others, classes.of_texts(texts.gather(others).to_list()))

    def _refused(self, rows: OrderRows, cells: Mapping[str, Cells]) -> Iterator[RefusedCell]:
        """One reason for each row that is refused: that of its first setting, as fields stand."""
        found: dict[int, RefusedCell] = {}
        for path in self.paths:
            for row, reason in self._refused_texts(rows.columns[path], path):
                found.setdefault(row, RefusedCell(row, path, reason))
        for row in self._written_twice(cells):
            found.setdefault(row, RefusedCell(row, "", TWICE))
        for row, reason in self._too_large(cells):
            found.setdefault(row, RefusedCell(row, "", reason))
        yield from (found[row] for row in sorted(found))

    def _refused_texts(self, column: Column, path: str) -> Iterator[tuple[int, str]]:
        readings = self.classes[path].readings
        for number in column.present:
            if reason := readings[number].refused:
                is_this = (column.of_code == number).gather(column.codes)
                yield from ((row, reason) for row in is_this.arg_true())

    def _written_twice(self, cells: Mapping[str, Cells]) -> Iterator[int]:
        """The rows in which a section is one text and has settings of its own as well."""
        for path in self.paths:
            below = [each for each in self.paths if each.startswith(f"{path}.")]
            for each in below:
                twice = cells[path].codes.is_not_null() & cells[each].codes.is_not_null()
                yield from twice.arg_true()

    def _too_large(self, cells: Mapping[str, Cells]) -> Iterator[tuple[int, str]]:
        """The rows whose document is larger than what is read of a file."""
        sizes = {path: cells[path].texts.str.len_bytes() for path in self.paths}
        room = LARGEST_FILE - _ROOM_FOR_KEYS
        if sum(int(str(size.max() or 0)) for size in sizes.values()) * _MOST_ESCAPED <= room:
            return
        total = pl.select(
            pl.sum_horizontal(
                pl.lit(size.gather(cells[path].codes).fill_null(0)) for path, size in sizes.items()
            )
        ).to_series()
        for row in (total.cast(pl.Int64) * _MOST_ESCAPED > room).arg_true():
            texts = {p: text for p in self.paths if (text := text_at(cells[p], row)) is not None}
            if reason := refusal_of(texts):
                yield row, reason

    def _with_spoilt(self, rows: OrderRows) -> OrderRows:
        """The rows with the leaves that cannot be read because of another cell."""
        columns = dict(rows.columns)
        for path in rows.columns:
            for target, of_class in self._spoilt_by(path, rows.present(path)).items():
                spoilt = rows.columns[path].spread(of_class)
                if spoilt.null_count() < len(spoilt):
                    columns[target] = _covered(columns.get(target), spoilt, self.classes[target])
        return replace(rows, columns=columns)

    def _spoilt_by(self, path: str, present: tuple[int, ...]) -> Mapping[str, pl.Series]:
        """By leaf, for each class of a path the class that it gives that leaf; null for none."""
        readings = self.classes[path].readings
        found: dict[str, dict[int, Leaf]] = {}
        for number in present:
            for leaf in readings[number].spoilt:
                found.setdefault(leaf.path, {})[number] = leaf
        return {
            target: pl.Series(
                [
                    self.classes[target].add(CellReading(leaves[n])) if n in leaves else None
                    for n in range(len(readings))
                ],
                dtype=pl.UInt32,
            )
            for target, leaves in found.items()
        }


_MOST_ESCAPED = 2
"""Bytes in JSON of a character of one byte at most, other than a control character."""


def _covered(column: Column | None, spoilt: pl.Series, classes: TextClasses) -> Column:
    """A column in which the rows that are not null in `spoilt` have the class that stands there."""
    every = pl.Series(range(len(classes.readings)), dtype=pl.UInt32)
    if column is None:
        codes = spoilt.fill_null(ABSENT)
    else:
        codes = column.spread(every).zip_with(spoilt.is_null(), spoilt)
    return Column(codes, every, tuple(sorted(codes.unique().to_list())))


def text_at(cells: Cells, row: int) -> str | None:
    """The text of one cell, None where it is absent."""
    code = cells.codes[row]
    return None if code is None else str(cells.texts[code])
