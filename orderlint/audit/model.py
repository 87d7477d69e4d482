"""The result of an audit as frozen data: counts by rule, by group and by month, rows to look at.

Nothing here counts. INVARIANT: no number of a result depends on the order of the rows, on how many
files they stand in, or on the format of these.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Inactive, Level, Verdict
    from orderlint.tables.table_map import MappedColumn


class SourceFile(NamedTuple):
    """A file of the table. `name` is as given; `sha256` is of its bytes, in hexadecimal digits."""

    name: str
    sha256: str
    rows: int


class RefusedRow(NamedTuple):
    """A row that is no order. `row` counts from 1; `column` is '' where several are involved."""

    file: str
    row: int
    column: str
    reason: str


@dataclass(frozen=True, slots=True)
class Refusals:
    """The rows that are no order: how many, how many by reason, and the first of them."""

    count: int = 0
    by_reason: Mapping[str, int] = field(default_factory=dict)
    first: tuple[RefusedRow, ...] = ()


@dataclass(frozen=True, slots=True)
class RuleCounts:
    """In how many rows a rule comes to what.

    broken + kept + not_asked + unchecked are all rows that are not refused. Of several settings at
    which a rule is asked, broken counts before unchecked, that before kept, and that before not
    asked. `reported` are the rows with a finding of this rule, after those that other findings
    cover and those that the policy suppresses. `only` are the rows that are stopped, with this rule
    alone above the level of a note. `unchecked_by` counts the unchecked rows by each setting that
    is missing there for the rule; a row may lack several.
    """

    level: Level
    family: str
    broken: int = 0
    kept: int = 0
    not_asked: int = 0
    unchecked: int = 0
    reported: int = 0
    only: int = 0
    unchecked_by: Mapping[str, int] = field(default_factory=dict)


class GroupRule(NamedTuple):
    """What a rule comes to in one group: rows, as in RuleCounts."""

    broken: int = 0
    reported: int = 0
    only: int = 0


@dataclass(frozen=True, slots=True)
class GroupCounts:
    """The counts of one group of rows, or of one month.

    `rows` are all rows, those that are refused included; `stopped` have a finding above the level
    of a note. `rules` has those rules that are broken or reported in some row of the group.
    `months` has by rule and month the rows in which a rule stops an order, where a group is counted
    by month.
    """

    rows: int = 0
    stopped: int = 0
    refused: int = 0
    rules: Mapping[str, GroupRule] = field(default_factory=dict)
    months: Mapping[str, Mapping[str, int]] = field(default_factory=dict)

    @property
    def judged(self) -> int:
        """The rows that are not refused: those that shares are of."""
        return self.rows - self.refused


@dataclass(frozen=True, slots=True)
class Unreadable:
    """The texts of one setting that cannot be read, with the number of their rows.

    `texts` are the most frequent, those of equal number in the order of their characters. `others`
    are how many texts there are besides, and `rows_of_others` their rows.
    """

    texts: Mapping[str, int]
    others: int = 0
    rows_of_others: int = 0


class SampledRow(NamedTuple):
    """One row drawn for a reviewer, with its cells by path; those that are absent are left out.

    `file` and `row` are where it stands first, `times` how often this very order stands in the
    table.
    """

    file: str
    row: int
    times: int
    cells: Mapping[str, str]


class MovedRows(NamedTuple):
    """The rows that one policy reports or stops and another does not, both ways."""

    only_before: int = 0
    only_after: int = 0


@dataclass(frozen=True, slots=True)
class Against:
    """What moves from the policy of the audit to another: the other's counts, and rows that differ.

    `rules` has the rules with a row that only one of the two reports.
    """

    policy: str
    policy_digest: str
    rulebook_digest: str
    verdicts: Mapping[Verdict, int]
    rules: Mapping[str, RuleCounts]
    stopped: int
    inactive: tuple[Inactive, ...] = ()
    moved_stopped: MovedRows = field(default=MovedRows())
    moved: Mapping[str, MovedRows] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AuditResult:
    """All that an audit finds.

    `version` is that of the tool. `mapping` is as used, and `unmapped` are the columns of the table
    that no setting is read from. `policy_digest` is the SHA-256 of the policy, `built-in` without
    one; `rulebook_digest` is of the rules that were asked. `as_of` is `written`, or
    `column:` and a name. `rows` are all, `refused` among them; `stopped` have a finding above the
    level of a note. `pairs` are rules, in the order of their ids, that are both reported in so many
    rows. `groups` are by column and value, the value '' where the cell is absent; `months` are by
    `2025-11`, or '' where the month cannot be told. `samples` are by rule. A count of a group below
    `min_cell` is to be hidden where it is shown. `inactive` are the rules that are asked of no row.
    """

    version: str
    files: tuple[SourceFile, ...]
    mapping: tuple[MappedColumn, ...]
    unmapped: tuple[str, ...]
    policy: str
    policy_digest: str
    rulebook_digest: str
    as_of: str
    rows: int
    refused: Refusals
    stopped: int
    verdicts: Mapping[Verdict, int]
    rules: Mapping[str, RuleCounts]
    pairs: Mapping[tuple[str, str], int] = field(default_factory=dict)
    groups: Mapping[str, Mapping[str, GroupCounts]] = field(default_factory=dict)
    month_of: str | None = None
    months: Mapping[str, GroupCounts] = field(default_factory=dict)
    unreadable: Mapping[str, Unreadable] = field(default_factory=dict)
    seed: int = 0
    samples: Mapping[str, tuple[SampledRow, ...]] = field(default_factory=dict)
    inactive: tuple[Inactive, ...] = ()
    against: Against | None = None
    min_cell: int = 5

    @property
    def judged(self) -> int:
        """The rows that are not refused."""
        return self.rows - self.refused.count

    def hides(self, count: int) -> bool:
        """Whether a count of a group is too small to be shown."""
        return 0 < count < self.min_cell
