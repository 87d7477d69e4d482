"""Runs an audit over all rows of all files, part after part.

Which rows are a part, and what is done with each. Never a count.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from orderlint import __version__
from orderlint.audit.auditor import Audit, AuditedPart, Auditor, FilePart
from orderlint.audit.result import result_of
from orderlint.audit.row_reader import MEMORY_BUDGET
from orderlint.audit.table_files.arrow_cells import cells_by_path, cells_of
from orderlint.audit.table_files.table import chunks
from orderlint.audit.tally import Tally
from orderlint.audit.text_classes import read_texts

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterator, Mapping, Sequence

    from orderlint.audit.model import AuditResult
    from orderlint.audit.part_folder import PartFolder
    from orderlint.audit.policy_plan import PolicyPlan
    from orderlint.audit.text_classes import ReadTexts

    Watcher: TypeAlias = Callable[[AuditedPart], None]
    """Is told of each part when it has been audited, in the order of the rows."""


class Means(NamedTuple):
    """How an audit is run: the result is the same, whatever these are.

    `folder` keeps what each part has come to, so that a run that was stopped goes on from there.
    `read` reads texts that were not met before, of which `budget` bytes are remembered. `told`
    is told of rows that are done, so many at a time.
    """

    folder: PartFolder | None = None
    read: ReadTexts = read_texts
    budget: int = MEMORY_BUDGET
    told: Callable[[int], None] = lambda _: None


def run(audit: Audit, watchers: Sequence[Watcher] = (), means: Means | None = None) -> AuditResult:
    """Audit every row. Raises Refused where a file cannot be read to its end.

    What is kept of a part stands for it, unless there is a watcher, who must see its rows.
    """
    means = means or Means()
    auditor = Auditor(audit, means.read, means.budget)
    folder = means.folder
    if folder is not None:
        folder.begin(_signs(audit, auditor.plans))
    tally = Tally()
    for file in range(len(audit.tables)):
        kept = None if watchers else folder
        first, is_whole = _add_kept(tally, audit, kept, file) if kept else (0, False)
        means.told(first)
        for part in () if is_whole else _prefetched(parts(audit, file, first)):
            audited = auditor.audit(part)
            for watcher in watchers:
                watcher(audited)
            if folder is not None:
                folder.keep(part.file, part.first, audited.tally)
            tally.add(audited.tally, audit.options.sample)
            means.told(part.rows.num_rows)
    return result_of(tally, audit, auditor.plans)


def _add_kept(tally: Tally, audit: Audit, folder: PartFolder, file: int) -> tuple[int, bool]:
    """Add the parts of a file that are kept: how many rows they are, and whether they are all."""
    first = 0
    while (found := folder.load(file, first)) is not None:
        rows = found.counts["rows", str(file)]
        tally.add(found, audit.options.sample)
        first += rows
        if rows < audit.part_rows:
            return first, True
    return first, False


def _prefetched(made: Generator[FilePart]) -> Iterator[FilePart]:
    """The parts in order, each made in another thread while the one before it is used.

    An error is raised where its part would be. All is made, and ended, in that one thread.
    """
    with ThreadPoolExecutor(1) as thread:
        try:
            ahead = thread.submit(next, made, None)
            while (part := ahead.result()) is not None:
                ahead = thread.submit(next, made, None)
                yield part
        finally:
            thread.submit(made.close)


def parts(audit: Audit, file: int, first: int = 0) -> Generator[FilePart]:
    """The rows of a file in parts, from `first` on."""
    columns, table = audit.columns, audit.tables[file]
    batches = table.batches(columns.names(), columns.floats(), first)
    for rows in chunks(batches, audit.part_rows):
        beside = {name: cells_of(rows.column(name)) for name in columns.extra}
        yield FilePart(file, first, rows, cells_by_path(rows, columns.mapped), beside)
        first += rows.num_rows


def _signs(audit: Audit, plans: Sequence[PolicyPlan]) -> Mapping[str, object]:
    """What the counts of a part depend on, by what it is called."""
    return {
        "tool": __version__,
        "table": [*audit.digests],
        "columns": repr((audit.columns.mapped, audit.columns.extra)),
        "policy": [each.digest for each in audit.policies],
        "rulebook": [plan.digest() for plan in plans],
        "options": repr((audit.options, audit.part_rows)),
    }
