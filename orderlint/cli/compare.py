"""The verb `compare`: compares two orders, or two order sets.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import orderlint
from orderlint.api.sources import DifferentKindsError
from orderlint.cli.inputs import shown_name
from orderlint.cli.options import (
    FILE,
    checked_output,
    datetime_of,
    effort_option,
    format_option,
    record_option,
    report_options,
)
from orderlint.cli.output_files import same_file
from orderlint.cli.progress import watched
from orderlint.cli.record import Recorder, check_record
from orderlint.cli.results import Wanted, run_one

if TYPE_CHECKING:
    from typing import Any

    from orderlint import Result
    from orderlint.api.comparison import Compared
    from orderlint.assessment import Assessment

_EPILOG = """\b
For example:
  orderlint compare order-1.yaml order-2.yaml
  orderlint compare --format json --output change.json set-1.yaml set-2.yaml

\b
Exit status:
  0   nothing at the level of --fail-at or above
  1   a finding, or a rule that could not be checked, at that level, in the
      change or in the second order; of sets, in an order that is new
  2   wrong usage, or a file that could not be read or is not what it says
  70  a fault of the tool itself; there is no comparison"""


@click.command("compare", epilog=_EPILOG, short_help="What changes from one to another.")
@click.argument("before", metavar="BEFORE", type=FILE)
@click.argument("after", metavar="AFTER", type=FILE)
@format_option("text", "json", "html")
@report_options(more=[effort_option, record_option])
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    before: str,
    after: str,
    at: int,
    policy: str | None,
    effort: int,
    wanted: Wanted,
) -> int:
    """Compare BEFORE with AFTER: two orders, or two order sets, in files or - for standard input.

    Of orders: each setting before and now, what the controller would do otherwise, and whether
    the change is plausible. Of sets: whether the second is stricter or looser, with an order that
    only the one yields, and whether a new order breaks a rule.
    """
    wanted = wanted._replace(output=checked_output(wanted.output, (before, after, policy)))
    check_record(wanted, (before, after, policy))
    if before != "-" and same_file(before, [after]):
        raise click.UsageError(f"BEFORE and AFTER are one file, {after}.")

    recorder = Recorder(wanted.record, "compare", at)

    def make() -> Compared:
        site = recorder.read_policy(policy)
        sources = recorder.read(before), recorder.read(after)
        names = shown_name(before), shown_name(after)
        data = (source.data for source in sources)
        try:
            result = orderlint.compare(
                *data,
                names=names,
                at=datetime_of(at),
                policy=site,
                effort=effort,
                watched=watched,
            )
        except DifferentKindsError as error:
            raise click.UsageError(str(error)) from None
        recorder.found(result.verdict, (result.assessment, *_later(result)))
        return result

    return recorder.run(lambda: run_one(make, wanted, _later))


def _later(result: Result[Any]) -> tuple[Assessment, ...]:
    """Of two orders, the assessment of the later one by itself."""
    return (result.found.after.assessment,) if result.verb == "compare orders" else ()
