"""Runs an audit over all rows of all files, part after part.

Which rows are a part, and what is done with each. Never a count.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

from orderlint.audit.auditor import AuditedPart, Auditor, Options, Part
from orderlint.audit.result import Names, PolicyName, result_of
from orderlint.audit.tables.table import chunks
from orderlint.audit.tally import Tally

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.audit.columns import Mapping as Columns
    from orderlint.audit.model import AuditResult
    from orderlint.audit.tables.table import Table
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


def run(audit: Audit, watchers: Sequence[Watcher] = ()) -> AuditResult:
    """Audit every row. Raises Refused where a file cannot be read to its end."""
    books = [policy.rulebook for policy in audit.policies]
    auditor = Auditor(audit.columns, books, audit.options)
    tally = Tally()
    for part in parts(audit):
        audited = auditor.audit(part)
        for watcher in watchers:
            watcher(audited)
        tally.add(audited.tally, audit.options.sample)
    return result_of(tally, _names(audit, auditor), audit.options, audit.min_cell)


def parts(audit: Audit) -> Iterator[Part]:
    """The rows of all files, in parts."""
    names, floats = audit.columns.names(), audit.columns.floats()
    for number, table in enumerate(audit.tables):
        first = 0
        for rows in chunks(table.batches(names, floats), audit.part_rows):
            yield Part(number, first, rows)
            first += rows.num_rows


def _names(audit: Audit, auditor: Auditor) -> Names:
    files = [
        (table.name, digest) for table, digest in zip(audit.tables, audit.digests, strict=True)
    ]
    policies = [
        PolicyName(plan, given.digest)
        for plan, given in zip(auditor.plans, audit.policies, strict=True)
    ]
    return Names(files, audit.columns, policies)
