"""Runs an audit over all rows of all files, part after part.

Which rows are a part, and what is done with each. Never a count.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple, Protocol

from orderlint import __version__
from orderlint.audit.auditor import AuditedPart, Auditor, Options, Part, part_of
from orderlint.audit.prefetch import prefetched
from orderlint.audit.result import Names, PolicyName, result_of
from orderlint.audit.row_reader import MEMORY_BUDGET
from orderlint.audit.tables.table import chunks
from orderlint.audit.tally import Tally
from orderlint.audit.text_classes import read_texts

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from orderlint.audit.columns import Mapping as Columns
    from orderlint.audit.model import AuditResult
    from orderlint.audit.tables.table import Table
    from orderlint.audit.text_classes import ReadTexts
    from orderlint.rulebook.rule import Rulebook

PART_ROWS = 250_000


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
    part_rows: int = PART_ROWS


class Watcher(Protocol):
    """Is told of each part when it has been audited, in the order of the rows."""

    def __call__(self, audited: AuditedPart) -> None:
        """Do with it whatever it is for."""


class Keeper(Protocol):
    """Keeps what each part has come to, so that a run that was stopped goes on from there.

    A part is known by the number of its file and that of its first row in it.
    """

    def begin(self, signs: Mapping[str, object]) -> None:
        """Be told by what a part of this audit is known from that of another. Raises Refused."""

    def load(self, file: int, first: int) -> Tally | None:
        """What a part has come to, None where that is not known. Raises Refused."""

    def keep(self, file: int, first: int, tally: Tally) -> None:
        """Keep what a part has come to."""


class KeepNothing:
    """Keeps nothing."""

    def begin(self, signs: Mapping[str, object]) -> None:
        """Nothing is kept."""

    def load(self, file: int, first: int) -> None:
        """Nothing is known."""

    def keep(self, file: int, first: int, tally: Tally) -> None:
        """Nothing is kept."""


class Means(NamedTuple):
    """How an audit is run: the result is the same, whatever these are.

    `read` reads texts that were not met before, of which `budget` bytes are remembered. `told`
    is told of rows that are done, so many at a time.
    """

    keeper: Keeper = KeepNothing()
    read: ReadTexts = read_texts
    budget: int = MEMORY_BUDGET
    told: Callable[[int], None] = lambda _: None


def run(audit: Audit, watchers: Sequence[Watcher] = (), means: Means | None = None) -> AuditResult:
    """Audit every row. Raises Refused where a file cannot be read to its end.

    What is kept of a part stands for it, unless there is a watcher, who must see its rows.
    """
    books = [policy.rulebook for policy in audit.policies]
    means = means or Means()
    auditor = Auditor(audit.columns, books, audit.options, means.read, means.budget)
    names = _names(audit, auditor)
    kept = means.keeper
    kept.begin(_signs(audit, names))
    tally = Tally()
    for file in range(len(audit.tables)):
        first, is_whole = _add_kept(tally, audit, kept, file) if not watchers else (0, False)
        means.told(first)
        for part in () if is_whole else prefetched(partial(parts, audit, file, first)):
            audited = auditor.audit(part)
            for watcher in watchers:
                watcher(audited)
            kept.keep(part.file, part.first, audited.tally)
            tally.add(audited.tally, audit.options.sample)
            means.told(part.rows.num_rows)
    return result_of(tally, names, audit.options, audit.min_cell)


def _add_kept(tally: Tally, audit: Audit, kept: Keeper, file: int) -> tuple[int, bool]:
    """Add the parts of a file that are kept: how many rows they are, and whether they are all."""
    first = 0
    while (found := kept.load(file, first)) is not None:
        rows = found.counts["rows", str(file)]
        tally.add(found, audit.options.sample)
        first += rows
        if rows < audit.part_rows:
            return first, True
    return first, False


def parts(audit: Audit, file: int, first: int = 0) -> Iterator[Part]:
    """The rows of a file in parts, from `first` on."""
    names, floats = audit.columns.names(), audit.columns.floats()
    for rows in chunks(audit.tables[file].batches(names, floats, first), audit.part_rows):
        yield part_of(file, first, rows, audit.columns)
        first += rows.num_rows


def _signs(audit: Audit, names: Names) -> Mapping[str, object]:
    """What the counts of a part depend on, by what it is called."""
    return {
        "tool": __version__,
        "table": [*audit.digests],
        "columns": repr((audit.columns.mapped, audit.columns.extra)),
        "policy": [each.digest for each in names.policies],
        "rulebook": [each.plan.digest() for each in names.policies],
        "options": repr((audit.options, audit.part_rows)),
    }


def _names(audit: Audit, auditor: Auditor) -> Names:
    files = [
        (table.name, digest) for table, digest in zip(audit.tables, audit.digests, strict=True)
    ]
    policies = [
        PolicyName(plan, given.digest)
        for plan, given in zip(auditor.plans, audit.policies, strict=True)
    ]
    return Names(files, audit.columns, policies)
