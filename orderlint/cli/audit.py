"""The verb `audit`: counts what a check would say of each order of a table.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import importlib.util
import os
import re
from typing import TYPE_CHECKING, Any

import click

from orderlint.api.renderers import renderer_of
from orderlint.cli import options
from orderlint.cli.exit_status import BELOW, FINDINGS
from orderlint.cli.output_files import write
from orderlint.cli.outputs import print_errors, text_style
from orderlint.cli.parallel import cores
from orderlint.cli.results import Wanted
from orderlint.finding import Level

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from orderlint.audit.model import AuditResult
    from orderlint.report.audit.words import WrittenRows
    from orderlint.rulebook.rule import Rule

_EPILOG = """\b
For example:
  orderlint audit --by unit --month written orders-2025.parquet
  orderlint audit --map columns.yaml --format html --output audit.html a.csv b.csv

\b
Exit status:
  0   nothing at the level of --fail-at or above
  1   a finding, or a rule that could not be checked, at that level or above
  2   wrong usage, or a file that could not be read; a row that is no order is
      counted as refused, and changes nothing here
  70  a fault of the tool itself; the table was not audited"""

_PACKAGES = ("duckdb", "polars", "pyarrow", "sqlglot", "xlsxwriter")
_MISSING = "An audit needs more packages; install them with: pip install 'orderlint[audit]'"


_LEAST_MEMORY = 800 * 10**6


def _bytes_of(ctx: click.Context, _option: click.Parameter, text: str) -> int:
    """An amount of memory, such as 4GB or 800MB, in bytes. Raises BadParameter."""
    found = re.fullmatch(r"([1-9][0-9]{0,5}) ?(MB|GB)", text)
    if found is None:
        raise click.BadParameter(f"{text!r} is no amount of memory, such as 4GB or 800MB.", ctx)
    size = int(found[1]) * {"MB": 10**6, "GB": 10**9}[found[2]]
    if size < _LEAST_MEMORY:
        raise click.BadParameter(f"{text!r} is too little; an audit takes 800MB or more.", ctx)
    return size


@click.command("audit", epilog=_EPILOG, short_help="Counts over a table of past orders.")
@click.argument("files", nargs=-1, required=True, metavar="TABLE...", type=options.FILE)
@click.option("--table", metavar="NAME", help="The table of a DuckDB or SQLite file.")
@options.file_option(
    "--map", "Which column holds which setting; by their names, if not given.", "map_file"
)
@options.policy
@options.file_option("--against", "Judge by this site policy as well, and say what moves.")
@click.option(
    "--as-of",
    metavar="WHEN",
    default="written",
    show_default=True,
    help="Judge each row as of when it was written, or as of column:NAME.",
)
@click.option("--by", metavar="COLUMN", multiple=True, help="Count by the values of this column.")
@click.option("--month", metavar="COLUMN", help="Count by the month of this column, or of written.")
@options.number_option(
    "--sample",
    "Draw so many orders of each rule for a reviewer.",
    least=0,
    most=10_000,
    default=0,
    shown=False,
)
@options.file_option("--sheet", "Write the sample with blank columns for a reviewer: .xlsx, .csv.")
@click.option("--seed", metavar="S", type=int, default=0, show_default=True, help="Draw by this.")
@options.number_option("--min-cell", "Hide counts of a group that are smaller.", least=0, default=5)
@options.number_option(
    "--part-rows", "Judge so many rows at a time.", most=10_000_000, default=250_000
)
@options.file_option("--parts", "Keep what each part comes to in this folder.", metavar="FOLDER")
@click.option("--resume", is_flag=True, help="Go on with the parts that are in the folder.")
@click.option(
    "--memory",
    metavar="SIZE",
    callback=_bytes_of,
    default="4GB",
    show_default=True,
    help="Stay within about so much memory: fewer rows at a time, fewer texts remembered.",
)
@options.number_option(
    "--threads",
    "Use so many processors; the result is the same.",
    default=cores,
    shown="as many as there are processors",
)
@options.file_option("--rows", "Write the rows that break a rule: .parquet, .csv, .xlsx.")
@click.option(
    "--sql",
    type=click.Choice(["duckdb", "postgres", "spark"]),
    help="Write the query that counts in a database, and count nothing here.",
)
@options.file_option("--texts", "Write the read texts that the query joins: .parquet, .csv.")
@click.option(
    "--from",
    "orders",
    metavar="NAME",
    help="The table of orders in that database; orders, if not given.",
)
@options.format_option("text", "json", "html")
@options.fail_at
@options.detail
@options.color
@options.output
def command(**asked: Any) -> int:
    """Judge each row of each TABLE as the order that it is, and count.

    A TABLE is a Parquet, CSV or NDJSON file, or a DuckDB or SQLite file with --table. The report
    says how many orders would have been stopped, by which rules, in which groups and months. It
    asks; it never changes an order.
    """
    if any(importlib.util.find_spec(package) is None for package in _PACKAGES):
        raise click.ClickException(_MISSING)
    for name in ("POLARS_MAX_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = str(asked["threads"])  # which the engine reads when it is imported
    from orderlint.cli.audit_inputs import AuditArguments, run_asked  # noqa: PLC0415 - needs an extra

    fail_at = Level(asked.pop("fail_at"))
    form, output, color, detail = (
        asked.pop(name) for name in ("form", "output", "color", "detail")
    )
    given = AuditArguments(**asked)
    if given.resume and given.parts is None:
        raise click.UsageError("--resume goes on with the parts of a folder; name it by --parts.")
    output = options.checked_output(output, given.inputs())
    given.check_written(output)
    wanted = Wanted(form, fail_at, output, color, detail)
    if given.sql is not None or given.texts is not None:
        from orderlint.cli.audit_sql import write_for_database  # noqa: PLC0415

        return write_for_database(given, wanted)
    if given.orders is not None:
        raise click.UsageError("--from is for --sql: it names a table in that database.")
    return _report(*run_asked(given), wanted)


def _report(
    result: AuditResult, rules: Mapping[str, Rule], written: Sequence[WrittenRows], wanted: Wanted
) -> int:
    from orderlint.report.audit.words import changed_words  # noqa: PLC0415 - from an extra

    print_errors(*(said for each in written for said in changed_words(each)))
    colored, width = text_style(wanted.color, wanted.output)
    given = {
        "rules": rules,
        "written": written,
        "color": colored,
        "width": width,
    }
    render = renderer_of("audit", wanted.form, detail=wanted.detail)
    write(render(result, given), wanted.output, wanted.encoding)
    return _status(result, wanted.fail_at)


def _status(result: AuditResult, fail_at: Level) -> int:
    """FINDINGS if some row has a finding, or a rule unchecked, at `fail_at` or above."""
    found = (
        counts.level.weight >= fail_at.weight and bool(counts.reported or counts.unchecked)
        for counts in result.rules.values()
    )
    return FINDINGS if any(found) else BELOW
