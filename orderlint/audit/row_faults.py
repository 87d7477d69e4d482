"""The faults of rows that are found by code: of one cell, of texts beside settings, of offsets.

Each kind is asked of the tool's own function once for each combination of what it reads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from orderlint.audit import masks
from orderlint.audit.texts import PLACE
from orderlint.finding import Fault
from orderlint.order import INSTRUCTING_TEXTS
from orderlint.prose.words import AGREES
from orderlint.prose_check import faults_of_leaf

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.audit.judged_rows import JudgedRows
    from orderlint.audit.masks import Mask
    from orderlint.order import Leaf
    from orderlint.prose.reader import Named


class FaultKind(NamedTuple):
    """What tells one fault from another of its rule: where it is, and what it spoils."""

    rule: str
    path: str
    spoils: tuple[str, ...] = ()

    def fault(self) -> Fault:
        """A fault of this kind, without its words."""
        return Fault(self.rule, self.path, "", PLACE, spoils=self.spoils)


def faults_of_cells(rows: JudgedRows) -> Iterator[tuple[FaultKind, Mask]]:
    """The faults of single cells, each with the rows that have it."""
    for path in rows.rows.columns:
        readings = rows.rows.classes[path].readings
        found: dict[FaultKind, set[int]] = {}
        for number in rows.rows.present(path):
            for fault in readings[number].faults:
                kind = FaultKind(fault.rule, fault.path, fault.spoils)
                found.setdefault(kind, set()).add(number)
        for kind, numbers in found.items():
            yield kind, rows.of_classes(path, numbers)


class TextFaults:
    """The faults of texts that say something else than the settings, remembered by combination."""

    def __init__(self) -> None:
        self._found: dict[tuple[object, ...], frozenset[str]] = {}

    def of(self, rows: JudgedRows) -> Iterator[tuple[FaultKind, Mask]]:
        """Such faults, each with the rows that have it."""
        for path in INSTRUCTING_TEXTS:
            naming: dict[tuple[str, ...], set[int]] = {}
            for number in rows.rows.present(path):
                named = [item.named for item in rows.leaf(path, number).named]
                if named:
                    naming.setdefault(settings_read(named), set()).add(number)
            found: dict[str, Mask] = {}
            for settings, numbers in naming.items():
                for rule, mask in self._of_group(rows, path, settings, numbers):
                    found[rule] = masks.either(found.get(rule, False), mask)
            yield from ((FaultKind(rule, path), mask) for rule, mask in found.items())

    def _of_group(
        self, rows: JudgedRows, path: str, settings: Sequence[str], numbers: set[int]
    ) -> Iterator[tuple[str, Mask]]:
        """The rules that are broken by texts which name the same settings."""
        paths = [path, *settings]
        frame = pl.DataFrame(
            [rows.class_numbers(each).alias(each) for each in paths]
        ).with_row_index()
        frame = frame.filter(masks.as_series(rows.of_classes(path, numbers), rows.count))
        broken: dict[str, list[tuple[int, ...]]] = {}
        for combination in frame.select(paths).unique().iter_rows():
            for rule in self._rules(rows, paths, combination):
                broken.setdefault(rule, []).append(combination)
        for rule, found in broken.items():
            there = pl.DataFrame(found, schema=dict.fromkeys(paths, pl.UInt32), orient="row")
            index = frame.join(there, on=paths, how="semi")["index"]
            yield rule, masks.at_rows(index, rows.count)

    def _rules(
        self, rows: JudgedRows, paths: Sequence[str], combination: Sequence[int]
    ) -> frozenset[str]:
        key = (*paths, *combination)
        if key not in self._found:
            leaves = {
                path: rows.leaf(path, number)
                for path, number in zip(paths, combination, strict=True)
            }
            if len(self._found) >= _MOST_KEPT:
                self._found.clear()
            self._found[key] = frozenset(_text_rules(leaves, paths[0]))
        return self._found[key]


_MOST_KEPT = 500_000


def _text_rules(leaves: Mapping[str, Leaf], path: str) -> Iterable[str]:
    return (fault.rule for fault in faults_of_leaf(leaves[path], lambda p: (leaves[p],)))


def settings_read(named: Iterable[Named]) -> tuple[str, ...]:
    """Every setting on which it may depend whether such a text is asked about.

    INVARIANT: weighing a text reads no other leaf; it would not find it, and fail.
    """
    found: dict[str, None] = {}
    for item in named:
        found.update(dict.fromkeys(item.paths))
        if item.act:
            found.update(dict.fromkeys(_OF_ACTS))
            if agreeing := AGREES.get((item.context, item.act)):
                found[agreeing[0]] = None
    return tuple(sorted(found))


_OF_ACTS = ("therapy", "titration.step", "transport.clamp_max")
