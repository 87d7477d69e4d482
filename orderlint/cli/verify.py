"""The verb `verify`: findings on written orders, and what the controller would do under them.

Arguments in, report out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import orderlint
from orderlint.cli.batch import FORMS_FOR_CI, ci_report_of, for_ci, report_on, run_each
from orderlint.cli.exit_status import USAGE, heaviest, status_of
from orderlint.cli.options import (
    FILE,
    ascii_option,
    at_option,
    color_option,
    datetime_of,
    fail_at_option,
    format_option,
    output_beside,
    output_option,
    policy_option,
)
from orderlint.cli.outputs import CannotWrite, print_errors, to_ascii, write
from orderlint.cli.results import Wanted
from orderlint.finding import Level

if TYPE_CHECKING:
    from orderlint import Result, SitePolicy
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
@click.argument("files", nargs=-1, required=True, metavar="ORDER...", type=FILE)
@format_option("text", "json", "html", *FORMS_FOR_CI)
@fail_at_option
@at_option
@policy_option
@color_option
@ascii_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: tuple[str, ...],
    form: str,
    fail_at: str,
    at: int,
    policy: str | None,
    color: str,
    in_ascii: bool,
    output: str | None,
) -> int:
    """Check each ORDER, a YAML or JSON file or - for standard input.

    The report has findings by level, what the controller would do at each pressure, what could
    not be checked and what was. It asks; it never changes an order.

    As html it is a page with a picture, to be read in a browser or printed.

    For CI it can be SARIF 2.1.0, JUnit XML, or lines file:line:column: level: rule: words; these
    leave out what the controller would do.
    """
    output = output_beside(output, (*files, policy))
    wanted = Wanted(form, fail_at, output, color)

    def make(data: bytes, name: str, site: SitePolicy | None) -> Result[Verified]:
        return orderlint.verify(data, name=name, at=datetime_of(at), policy=site)

    batch = run_each(files, policy, "order", make)
    statuses = [status_of(result, Level(fail_at)) for result in batch.results]
    statuses += batch.statuses()
    try:
        if form in FORMS_FOR_CI:
            text = for_ci(ci_report_of("verify", batch, at), wanted)
        else:
            text = report_on("verify", batch, wanted, at)
        write(to_ascii(text) if in_ascii and form == "text" else text, output, wanted.encoding)
    except CannotWrite as error:
        print_errors(str(error))
        statuses.append(USAGE)
    return heaviest(statuses)
