"""The verb `verify`: checks written orders.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import orderlint
from orderlint.cli import options
from orderlint.cli.batch import (
    FORMS_FOR_CI,
    ci_report_of,
    for_ci,
    refused_batch,
    report_batch,
    run_each,
)
from orderlint.cli.exit_status import USAGE, heaviest, status_of
from orderlint.cli.inputs import read_codes
from orderlint.cli.output_files import write
from orderlint.cli.outputs import print_errors, to_ascii
from orderlint.cli.record import check_record, record_batch
from orderlint.finding import Refused
from orderlint.own_files import CannotWrite

if TYPE_CHECKING:
    from orderlint import Result, SitePolicy
    from orderlint.cli.batch import Batch
    from orderlint.cli.results import Wanted
    from orderlint.verification import Verified

_EPILOG = """\b
For example:
  orderlint verify order.yaml
  orderlint verify --format json --output found.json first.yaml second.yaml

\b
Exit status:
  0   nothing at the level of --fail-at or above
  1   a finding, or a rule that could not be checked, at that level or above
  2   wrong usage, or a file that could not be read or is not an order
  70  a fault of the tool itself; the order was not checked
Of several files the greatest status counts."""


@click.command("verify", epilog=_EPILOG, short_help="Findings on written orders.")
@click.argument("files", nargs=-1, required=True, metavar="ORDER...", type=options.FILE)
@options.file_option(
    "--table",
    "Each ORDER is a table of orders (CSV, TSV); MAP says which column holds which setting.",
    "table_map",
    metavar="MAP",
)
@options.format_option("text", "json", "html", *FORMS_FOR_CI, "fhir")
@options.report_options(options.concept_map, options.in_ascii, options.record, has_detail=True)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: tuple[str, ...],
    table_map: str | None,
    at: int,
    policy: str | None,
    concept_map: str | None,
    in_ascii: bool,
    wanted: Wanted,
) -> int:
    """Check each ORDER, a YAML or JSON file or - for standard input; it may be a Bundle of FHIR.

    The report has the verdict, the findings with the heaviest first, and what could not be
    checked; with --detail also what the controller would do at each pressure. It asks; it never
    changes an order.

    As html it is a page with a picture, to be read in a browser or printed.

    For CI it can be SARIF 2.1.0, JUnit XML, or lines file:line:column: level: rule: words; these
    leave out what the controller would do. As fhir it is an OperationOutcome of FHIR R4.

    With --table, each row of a table is an order, or one setting of an order where the columns are
    order, field and value (and unit). A MAP without columns has them named by their paths.
    """
    inputs = (*files, policy, table_map, concept_map)
    wanted = wanted._replace(output=options.checked_output(wanted.output, inputs))
    check_record(wanted.record, (*inputs, wanted.output))
    batch = _checked(files, table_map, policy, concept_map, at)
    statuses = [status_of(result.assessment, wanted.fail_at) for result in batch.results]
    statuses += batch.statuses()
    try:
        if wanted.form in {*FORMS_FOR_CI, "fhir"}:
            text = for_ci(ci_report_of("verify", batch, at), wanted)
        else:
            text = report_batch("verify", batch, wanted, at) + _summary(batch, wanted, table_map)
        text = to_ascii(text) if in_ascii and wanted.form == "text" else text
        write(text, wanted.output, wanted.encoding)
    except CannotWrite as error:
        print_errors(str(error))
        statuses = [heaviest((status, USAGE)) for status in statuses]
    return heaviest([*statuses, record_batch(wanted.record, "verify", batch, statuses, at)])


def _checked(
    files: tuple[str, ...],
    table_map: str | None,
    policy: str | None,
    concept_map: str | None,
    at: int,
) -> Batch[Verified]:
    """The orders in the files, each checked."""
    if table_map is not None:
        from orderlint.cli.tables import run_tables  # noqa: PLC0415 - cold start

        return run_tables(files, table_map, policy, at)
    try:
        codes = read_codes(concept_map)
    except Refused as reason:
        return refused_batch(concept_map, reason)

    def make(data: bytes, name: str, site: SitePolicy | None) -> Result[Verified]:
        when = options.datetime_of(at)
        return orderlint.verify(data, name=name, at=when, policy=site, concept_map=codes)

    return run_each(files, policy, "order", make)


def _summary(batch: Batch[Verified], wanted: Wanted, table_map: str | None) -> str:
    """How many orders of tables have which verdict, after a text on them."""
    if table_map is None or wanted.form != "text" or not batch.results:
        return ""
    from orderlint.cli.tables import count_verdicts  # noqa: PLC0415 - cold start

    return f"\n{count_verdicts(batch)}\n"
