"""The faults of rows that are found by code: of one cell, of texts beside settings, of offsets.

Each kind is asked of the tool's own function once for each combination of what it reads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from orderlint.audit import column_logic as logic
from orderlint.audit.texts import PLACE, TextMentions
from orderlint.finding import Fault
from orderlint.mention_check.faults import asked_about
from orderlint.mentions.words import AGREES
from orderlint.order import READ_TEXTS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.audit.column_logic import Mask
    from orderlint.audit.policy_rows import PolicyRows


class FaultKind(NamedTuple):
    """What tells one fault from another of its rule: where it is, and what it spoils."""

    rule: str
    path: str
    spoils: tuple[str, ...] = ()

    def fault(self) -> Fault:
        """A fault of this kind, without its words."""
        return Fault(self.rule, self.path, "", PLACE, spoils=self.spoils)


def faults_of_cells(rows: PolicyRows) -> Iterator[tuple[FaultKind, Mask]]:
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
    """The faults of texts that say something else than the settings, remembered by combination of
    what is said and the classes of the settings that it is weighed with.
    """

    def __init__(self) -> None:
        self._found: dict[tuple[object, ...], str] = {}

    def of(self, rows: PolicyRows) -> Iterator[tuple[FaultKind, Mask]]:
        """Such faults, each with the rows that have it."""
        for path in READ_TEXTS:
            found: dict[str, Mask] = {}
            for settings, pairs in _by_settings(rows, path).items():
                for rule, mask in self._of_group(rows, path, settings, pairs):
                    found[rule] = logic.either(found.get(rule, False), mask)
            yield from ((FaultKind(rule, path), mask) for rule, mask in found.items())

    def _of_group(
        self, rows: PolicyRows, path: str, settings: Sequence[str], pairs: Sequence[tuple[int, int]]
    ) -> Iterator[tuple[str, Mask]]:
        """The rules that are broken by what is weighed with the same settings.

        `pairs` are of a class of texts and the number of what it says.
        """
        frame = pl.DataFrame([rows.class_numbers(each).alias(each) for each in (path, *settings)])
        said = pl.DataFrame(pairs, {path: pl.UInt32, _SAID: pl.UInt32}, orient="row")
        keys = [_SAID, *settings]
        frame = frame.with_row_index().join(said, on=path).select("index", *keys)
        broken: dict[str, list[tuple[int, ...]]] = {}
        for combination in frame.select(keys).unique().iter_rows():
            if rule := self._rule(rows, path, settings, combination):
                broken.setdefault(rule, []).append(combination)
        for rule, found in broken.items():
            there = pl.DataFrame(found, schema=dict.fromkeys(keys, pl.UInt32), orient="row")
            index = frame.join(there, on=keys, how="semi")["index"]
            yield rule, logic.at_rows(index, rows.rows.count)

    def _rule(
        self, rows: PolicyRows, path: str, settings: Sequence[str], combination: Sequence[int]
    ) -> str:
        """The rule by which something said is asked about beside these classes; '' if it is not."""
        key = (path, *combination)
        rule = self._found.get(key)
        if rule is None:
            number, *beside = combination
            leaves = dict(zip(settings, map(rows.leaf, settings, beside), strict=True))
            mention, ordered = rows.rows.classes[path].said[number]
            rule, _ = asked_about(mention, ordered, lambda p: (leaves[p],))
            if len(self._found) >= _MOST_KEPT:
                self._found.clear()
            self._found[key] = rule
        return rule


_SAID = "what is said"
_MOST_KEPT = 500_000


def _by_settings(
    rows: PolicyRows, path: str
) -> Mapping[tuple[str, ...], Sequence[tuple[int, int]]]:
    """The classes of the texts of a path, each with what it says, by what that is weighed with."""
    settings: dict[int, list[tuple[int, int]]] = {}
    for number in rows.rows.present(path):
        for each in rows.says(path, number):
            settings.setdefault(each, []).append((number, each))
    found: dict[tuple[str, ...], list[tuple[int, int]]] = {}
    for each, pairs in settings.items():
        found.setdefault(settings_read(rows.rows.classes[path].said[each]), []).extend(pairs)
    return found


def settings_read(said: TextMentions) -> tuple[str, ...]:
    """Every setting on which it may depend whether something said is asked about.

    INVARIANT: weighing it reads no other leaf; it would not find it, and fail.
    """
    found = {*said.mention.paths, *said.ordered}
    if said.mention.act:
        found.update(_OF_ACTS)
        if agreeing := AGREES.get((said.mention.context, said.mention.act)):
            found.add(agreeing[0])
    return tuple(sorted(found))


_OF_ACTS = ("therapy", "titration.step", "transport.clamp_max", "irrigation.additive.name")
