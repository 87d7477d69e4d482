"""Rows under one policy: its standing orders filled in, each row as of its own time.

What a leaf of a class is, and the columns that conditions read. Never a condition.
"""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit import column_logic as logic
from orderlint.audit.condition_graph import ROW_BY_ROW, Node
from orderlint.audit.text_classes import ABSENT
from orderlint.audit.texts import said_in
from orderlint.fields import CHECKED_AT
from orderlint.language import to_polars
from orderlint.language.evaluate import evaluate
from orderlint.order import CLOCK_PUT_BACK, Leaf

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping

    from orderlint.audit.column_logic import Mask
    from orderlint.audit.rows import OrderRows

FALSE, TRUE, UNKNOWN = 0, 1, 2

Kept = dict["Node", bytearray]
"""The answer to each test for each class, kept from part to part under one policy."""


class PolicyRows:
    """Rows and what stands in them where nothing is written.

    `absent` has leaves by path: what every row has, and a policy's standing orders. `at` are the
    instants as of which rows are judged, in milliseconds since 1970 UTC, null where a row has none.
    `put_back` tells where the clock is put back between the start and the review.
    """

    def __init__(
        self, rows: OrderRows, absent: Mapping[str, Leaf], kept: Kept, at: pl.Series, put_back: Mask
    ) -> None:
        self.rows, self.absent, self.kept = rows, absent, kept
        self.at, self.put_back = at, put_back
        self._known: dict[str, Mask] = {}
        self._pickers: dict[str, Callable[[bytes], Iterable[int]]] = {}

    def leaf(self, path: str, number: int) -> Leaf:
        """The leaf of a class."""
        if number == ABSENT and path in self.absent:
            return self.absent[path]
        return self.rows.classes[path].readings[number].leaf

    def says(self, path: str, number: int) -> tuple[int, ...]:
        """The numbers of what the texts of a class say."""
        classes = self.rows.classes[path]
        if number == ABSENT and path in self.absent:
            return classes.numbers_of(said_in(self.absent[path]))
        return classes.says[number]

    def answers(self, node: Node) -> bytes:
        """What a test comes to for each class, by its number, as TRUE, FALSE or UNKNOWN."""
        kept = self.kept.setdefault(node, bytearray())
        for number in range(len(kept), len(self.rows.classes[node.path].readings)):
            found = evaluate(node.tree, {node.path: self.leaf(node.path, number)})
            kept.append(UNKNOWN if found is None else TRUE if found else FALSE)
        return bytes(kept)

    def different_answers(self, node: Node) -> set[int]:
        """What a test comes to in some row."""
        return {*self._of_present(node.path)(self.answers(node))}

    def _of_present(self, path: str) -> Callable[[bytes], Iterable[int]]:
        """Picks of values by class those of the classes that a row may have."""
        if path not in self._pickers:
            present = self.rows.present(path)
            # With one number, itemgetter gives no tuple.
            self._pickers[path] = itemgetter(*present, present[0])
        return self._pickers[path]

    def where(self, path: str, has: Callable[[Leaf], bool]) -> Mask:
        """Where the leaf at a path has something that is the same for all of its class."""
        return self.of_classes(
            path, {n for n in self.rows.present(path) if has(self.leaf(path, n))}
        )

    def of_classes(self, path: str, numbers: Collection[int]) -> Mask:
        """Where the leaf at a path is of one of these classes."""
        found = {n: n in numbers for n in self.rows.present(path)}
        if len({*found.values()}) == 1:
            return found.popitem()[1]
        return self._spread(path, found, pl.Boolean(), default=False)

    def class_numbers(self, path: str) -> pl.Series:
        """The class of the leaf at a path in each row."""
        column = self.rows.columns.get(path)
        if column is None:
            return pl.Series([ABSENT], dtype=pl.UInt32).new_from_index(0, self.rows.count)
        return column.of_code.gather(column.codes)

    def known(self, path: str) -> Mask:
        """Where a leaf has a value."""
        if path not in self._known:
            if path == CHECKED_AT:
                nulls = self.at.null_count()
                known: Mask = self.at.is_not_null() if nulls not in {0, len(self.at)} else not nulls
            else:
                known = self.where(path, lambda leaf: leaf.known)
            self._known[path] = known
        return self._known[path]

    def columns(self, path: str, *, unit: bool) -> Iterator[tuple[str, pl.Series]]:
        """The columns that expressions read of a path whose classes are compared row by row.

        That of its `unit` only where it is wanted: texts take longer than numbers.
        """
        if path in ROW_BY_ROW:
            yield from self._of_instant(path)
            return
        leaves = {n: self.leaf(path, n) for n in self.rows.present(path)}
        values = {n: leaf.value for n, leaf in leaves.items()}
        is_text = any(isinstance(value, str) for value in values.values())
        kind = pl.String() if is_text else pl.Int64()
        yield to_polars.value_of(path), self._spread(path, values, kind)
        if unit:
            units = {n: leaf.unit if leaf.known else None for n, leaf in leaves.items()}
            yield to_polars.unit_of(path), self._spread(path, units, pl.String())

    def _of_instant(self, path: str) -> Iterator[tuple[str, pl.Series]]:
        if path == CHECKED_AT:
            numbers, given = self.at, self.at.is_not_null()
        else:
            nothing = pl.Series([None], dtype=pl.Int64).new_from_index(0, self.rows.count)
            numbers = self.rows.numbers.get(path, nothing)
            given = logic.as_series(self.where(path, lambda leaf: leaf.given), self.rows.count)
        flagged = logic.as_series(self.put_back, self.rows.count)
        yield to_polars.value_of(path), numbers
        yield to_polars.given_of(path), given
        null = pl.Series([None], dtype=pl.Boolean).new_from_index(0, self.rows.count)
        yield to_polars.flag_of(path, CLOCK_PUT_BACK), flagged.zip_with(given, null)

    def _spread(
        self,
        path: str,
        of_class: Mapping[int, object],
        kind: pl.DataType,
        default: object = None,
    ) -> pl.Series:
        size = len(self.rows.classes[path].readings)
        values = pl.Series([of_class.get(n, default) for n in range(size)], dtype=kind)
        column = self.rows.columns.get(path)
        if column is None:
            return values.new_from_index(ABSENT, self.rows.count)
        return column.spread(values)
