"""Makes an audit of what the command line names, and runs it within some memory.

Opens files. Never a count.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, NamedTuple

import click

from orderlint.api import policies
from orderlint.audit.auditor import Audit, GivenPolicy, Options
from orderlint.audit.columns import mapping_of
from orderlint.audit.part_folder import PartFolder
from orderlint.audit.reading_pool import ReadingPool
from orderlint.audit.run import Means, run
from orderlint.audit.table_files.opening import file_digest, open_table
from orderlint.cli.inputs import load_rulebook, read_content, read_site_policy
from orderlint.cli.options import checked_output
from orderlint.cli.outputs import print_errors
from orderlint.cli.progress import shown_rows
from orderlint.report.audit.broken_rows import BrokenRows
from orderlint.report.audit.samples import write_sheet
from orderlint.tables.table_map import MapEntry, column_notes, read_table_map

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.audit.model import AuditResult
    from orderlint.audit.sql.query import Dialect
    from orderlint.report.audit.words import WrittenRows
    from orderlint.rulebook.rule import Rule

_FIXED = 500 * 10**6
"""Bytes that an audit takes whatever the table is."""
_OF_A_ROW = 6_000
"""Bytes that a row takes at most while it is judged, with the next part read ahead."""
_FEWEST_ROWS = 10_000
_WRITTEN = "written"
_COLUMN = "column:"


class AuditArguments(NamedTuple):
    """What the command line asks of an audit, beside its report.

    `parts` is the folder in which parts are kept, and `resume` is whether it goes on with them;
    `memory` is in bytes. For a database are the dialect `sql` of the query, the file `texts` of the
    read texts, and its table `orders`.
    """

    files: tuple[str, ...]
    table: str | None
    map_file: str | None
    policy: str | None
    against: str | None
    as_of: str
    by: tuple[str, ...]
    month: str | None
    sample: int
    seed: int
    min_cell: int
    part_rows: int
    rows: str | None
    sheet: str | None
    parts: str | None
    resume: bool
    threads: int
    memory: int
    sql: Dialect | None
    texts: str | None
    orders: str | None

    def inputs(self) -> tuple[str | None, ...]:
        """Every file that is read."""
        return (*self.files, self.map_file, self.policy, self.against)

    def check_written(self, output: str | None) -> None:
        """Raise UsageError where a file would be written over one that is read, or written twice.

        `output` is where the report goes.
        """
        taken = [*self.inputs(), output]
        for name, file in (("--rows", self.rows), ("--sheet", self.sheet)):
            if file is not None:
                if checked_output(file, taken, name) is None:
                    raise click.UsageError(f"{name} is a file.")
                taken.append(file)
        if self.sheet is not None and not self.sample:
            raise click.UsageError("--sheet is of the orders that --sample N draws.")

    def options(self) -> Options:
        """What is counted. Raises UsageError where --as-of names no column."""
        as_of = None
        if self.as_of != _WRITTEN:
            as_of = self.as_of.removeprefix(_COLUMN)
            if not as_of or as_of == self.as_of:
                raise click.UsageError("--as-of is written, or column: and the name of a column.")
        return Options(
            as_of=as_of,
            by=tuple(dict.fromkeys(self.by)),
            by_month=self.month is not None,
            month=None if self.month == _WRITTEN else self.month,
            sample=self.sample,
            seed=self.seed,
        )


def audit_of(asked: AuditArguments) -> Audit:
    """The audit that is asked for, and on standard error which columns are not read.

    Raises Refused at a file that cannot be read, and UsageError.
    """
    options = asked.options()
    entries: tuple[MapEntry, ...] = ()
    if asked.map_file is not None:
        entries = read_table_map(read_content(asked.map_file).read("table-map"))
    given = (asked.policy, asked.against) if asked.against is not None else (asked.policy,)
    sites = [read_site_policy(file) for file in given]
    tables = [open_table(file, asked.table) for file in asked.files]
    columns = mapping_of(tables, entries, options.columns(), carry=asked.rows is not None)
    print_errors(*column_notes(columns.unmapped, columns.mapped))
    return Audit(
        tables=tables,
        digests=[file_digest(table.name) for table in tables],
        columns=columns,
        policies=[
            GivenPolicy(load_rulebook("order", site), policies.policy_digest(site))
            for site in sites
        ],
        options=options,
        min_cell=asked.min_cell,
        part_rows=asked.part_rows,
    )


def run_asked(asked: AuditArguments) -> tuple[AuditResult, Mapping[str, Rule], list[WrittenRows]]:
    """Run the audit that is asked for: its result, the rules, the files of rows that were written.

    Raises Refused, CannotWrite and UsageError.
    """
    room = asked.memory - _FIXED
    part_rows = min(asked.part_rows, max(_FEWEST_ROWS, room // 2 // _OF_A_ROW))
    audit = audit_of(asked._replace(part_rows=part_rows))
    with contextlib.ExitStack() as stack:
        files = [stack.enter_context(BrokenRows(file)) for file in (asked.rows,) if file]
        folder = None
        if asked.parts is not None:
            folder = stack.enter_context(PartFolder(asked.parts, resume=asked.resume))
        pool = stack.enter_context(ReadingPool(asked.threads))
        told = stack.enter_context(shown_rows([table.rows for table in audit.tables]))
        result = run(audit, files, Means(folder, pool.read, room // 2, told))
    rules, written = audit.policies[0].rulebook.rules, [file.written for file in files]
    if asked.sheet is not None:
        written.append(write_sheet(result, rules, asked.sheet))
    return result, rules, written
