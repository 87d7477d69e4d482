"""Audits one part of a table after another: reads, judges and counts its rows.

Joins what is below. Opens no file.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from orderlint.audit import row_counting
from orderlint.audit.clocks import Clocks
from orderlint.audit.judge import JudgedRows, judge
from orderlint.audit.policy_plan import PolicyPlan, lists_of
from orderlint.audit.row_reader import MEMORY_BUDGET, RefusedCell, RowReader
from orderlint.audit.sampling import Sampler
from orderlint.audit.tally import FIRST, Key, RefusedAt, Tally
from orderlint.audit.text_classes import read_texts

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pyarrow as pa

    from orderlint.audit.columns import Mapping as Columns
    from orderlint.audit.rows import Cells, OrderRows
    from orderlint.audit.table_files.table import Table
    from orderlint.audit.text_classes import ReadTexts
    from orderlint.rulebook.rule import Rulebook

WRITTEN = "written"
"""The time that an order was written: as of it a row is judged, unless a column is named."""


@dataclass(frozen=True, slots=True)
class Options:
    """What is counted besides the rules.

    `as_of` and `month` are a column each, None for when the order was written. `by` are columns.
    `sample` is how many rows a rule are drawn by `seed`.
    """

    as_of: str | None = None
    by: tuple[str, ...] = ()
    by_month: bool = False
    month: str | None = None
    sample: int = 0
    seed: int = 0

    def columns(self) -> tuple[str, ...]:
        """The columns that are looked at by themselves."""
        named = (self.as_of, self.month, *self.by)
        return tuple(dict.fromkeys(name for name in named if name is not None))


class GivenPolicy(NamedTuple):
    """A policy to judge by, and the digest of its file."""

    rulebook: Rulebook
    digest: str


class Audit(NamedTuple):
    """What is audited, and how. `digests` are of the files of the tables."""

    tables: Sequence[Table]
    digests: Sequence[str]
    columns: Columns
    policies: Sequence[GivenPolicy]
    options: Options
    min_cell: int = 5
    part_rows: int = 250_000


class FilePart(NamedTuple):
    """Rows of one file: the number of the file, that of the first row, from 0, and the rows.

    `cells` are by path, `beside` by the name of a column that is looked at by itself.
    """

    file: int
    first: int
    rows: pa.Table
    cells: Mapping[str, Cells]
    beside: Mapping[str, Cells]


class AuditedPart(NamedTuple):
    """What one part came to, under each policy, and its counts."""

    part: FilePart
    rows: OrderRows
    judged: tuple[JudgedRows, ...]
    tally: Tally


class Auditor:
    """Audits parts under one policy or two. What was read of texts is remembered."""

    def __init__(
        self, audit: Audit, read: ReadTexts = read_texts, budget: int = MEMORY_BUDGET
    ) -> None:
        self.columns, self.options = audit.columns, audit.options
        rulebooks = [policy.rulebook for policy in audit.policies]
        self.plans = tuple(map(PolicyPlan, rulebooks))
        paths = [each.path for each in audit.columns.mapped]
        self._reader = partial(RowReader, paths, lists_of(rulebooks), read, budget)
        self.reader = self._reader()
        self.clocks = Clocks()
        self.sampler = Sampler(audit.options.sample, audit.options.seed)

    def audit(self, part: FilePart) -> AuditedPart:
        """Read, judge and count the rows of a part."""
        if self.reader.budget.is_spent:
            self._forget()
        cells, beside = part.cells, part.beside
        rows, refused = self.reader.read(cells, part.rows.num_rows)
        at = self._at(rows, beside)
        judged = tuple(judge(plan, rows, at, self.clocks) for plan in self.plans)
        tally = Tally()
        self._count_rows(tally, part, refused)
        for number, (plan, found) in enumerate(zip(self.plans, judged, strict=True)):
            row_counting.count_policy(tally, str(number), plan, found)
        row_counting.count_pairs(tally, judged[0])
        if len(judged) > 1:
            row_counting.count_moved(tally, *judged)
        lost = [each.row for each in refused]
        months = self._months(cells, beside)
        for under, values in self._groups(beside, months):
            kept = values.gather(rows.places)
            row_counting.count_groups(tally, under, kept, self.plans[0], judged[0])
            row_counting.count_refused_groups(tally, under, values.gather(lost).to_list())
            if months is not None and values is not months:
                pair = kept, months.gather(rows.places)
                row_counting.count_months_of_groups(tally, under, pair, self.plans[0], judged[0])
        row_counting.count_unreadable(tally, rows, cells)
        if self.options.sample:
            self.sampler.draw(tally, rows, judged[0], cells, (part.file, part.first))
        return AuditedPart(part, rows, judged, tally)

    def _forget(self) -> None:
        """Begin anew with texts and their classes, of which all that is kept of plans depends."""
        self.reader = self._reader()
        for plan in self.plans:
            plan.forget()

    def _at(self, rows: OrderRows, beside: Mapping[str, Cells]) -> pl.Series:
        """The instants as of which rows are judged."""
        nothing = pl.Series([None], dtype=pl.Int64).new_from_index(0, rows.count)
        if self.options.as_of is None:
            return rows.numbers.get(WRITTEN, nothing)
        return self.reader.instants_of(beside[self.options.as_of]).gather(rows.places)

    def _count_rows(self, tally: Tally, part: FilePart, refused: Sequence[RefusedCell]) -> None:
        tally.counts["rows", str(part.file)] = part.rows.num_rows
        tally.counts["refused",] = len(refused)
        for each in refused:
            tally.counts["reason", each.reason] += 1
        columns = {each.path: each.column for each in self.columns.mapped}
        for each in refused[:FIRST]:
            row = part.first + each.row + 1
            column = columns.get(each.path, "")
            tally.refused.append(RefusedAt(part.file, row, column, each.reason))

    def _groups(
        self, beside: Mapping[str, Cells], months: pl.Series | None
    ) -> Iterator[tuple[Key, pl.Series]]:
        """The value by which each row of a part is counted, for each way of counting."""
        for name in self.options.by:
            yield ("by", name), beside[name].texts.gather(beside[name].codes)
        if months is not None:
            yield ("month",), months

    def _months(self, cells: Mapping[str, Cells], beside: Mapping[str, Cells]) -> pl.Series | None:
        """The month of each row of a part, if they are counted by it."""
        month = self.options.month
        dates = cells.get(WRITTEN) if month is None else beside[month]
        if dates is None or not self.options.by_month:
            return None
        return dates.texts.str.extract(_MONTH).gather(dates.codes)


_MONTH = r"^\s*([0-9]{4}-(?:0[1-9]|1[0-2]))-[0-9]{2}(?:[T ].*)?\s*$"
