"""The verb `compare`: compares two orders, or two order sets.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any, NamedTuple

import click

import orderlint
from orderlint.api.sources import Content, DifferentKindsError, as_set
from orderlint.cli import options
from orderlint.cli.batch import FORMS_FOR_CI
from orderlint.cli.inputs import read_codes
from orderlint.cli.output_files import same_file
from orderlint.cli.outputs import print_errors
from orderlint.cli.progress import watched
from orderlint.cli.record import Recorder, check_record
from orderlint.cli.results import Wanted, report
from orderlint.finding import Refused

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint import Result, SitePolicy

_EPILOG = """\b
For example:
  orderlint compare order-1.yaml order-2.yaml
  orderlint compare --against main --format markdown order-sets/irrigation.yaml

\b
Exit status:
  0   nothing at the level of --fail-at or above
  1   a finding, or a rule that could not be checked, at that level, in the
      change or in the second order; of sets, in an order that is new
  2   wrong usage, or a file that could not be read or is not what it says
  70  a fault of the tool itself; there is no comparison"""


@click.command("compare", epilog=_EPILOG, short_help="What changes from one to another.")
@click.argument("files", nargs=-1, required=True, metavar="[BEFORE] AFTER", type=options.FILE)
@options.format_option("text", "json", "html", *FORMS_FOR_CI)
@options.report_options(options.concept_map, options.against, options.effort, options.record)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: tuple[str, ...],
    against: str | None,
    at: int,
    policy: str | None,
    concept_map: str | None,
    effort: int,
    wanted: Wanted,
) -> int:
    """Compare BEFORE with AFTER: two orders, or two order sets, in files or - for standard input.

    Of orders: each setting before and now, what the controller would do otherwise, and whether
    the change is plausible. Of sets: whether the second is stricter or looser, with an order that
    only the one yields, and whether a new order breaks a rule that no earlier order broke.
    """
    if len(files) != (1 if against else 2):
        raise click.UsageError("Two files are compared, or one --against a file or a revision.")
    before, after = files[0], files[-1]
    inputs = (*files, against, policy, concept_map)
    wanted = wanted._replace(output=options.checked_output(wanted.output, inputs))
    check_record(wanted.record, (*inputs, wanted.output))
    if not against and before != "-" and same_file(before, [after]):
        raise click.UsageError(f"BEFORE and AFTER are one file, {after}.")
    recorder = Recorder(wanted.record, "compare", at)
    given = _CompareArguments(
        before, after, against, policy, concept_map, options.datetime_of(at), effort
    )
    return recorder.run(lambda: _compare(given, wanted, recorder))


class _CompareArguments(NamedTuple):
    """The files that are compared, by which others, as of when, and with how much effort."""

    before: str
    after: str
    against: str | None
    policy: str | None
    concept_map: str | None
    at: datetime
    effort: int


def _compare(given: _CompareArguments, wanted: Wanted, recorder: Recorder) -> int:
    """Write what is found. Raises Refused, and UsageError for an order beside a set."""
    site = recorder.read_policy(given.policy)
    if given.against is None:
        earlier: Content | None = recorder.read(given.before)
    else:
        from orderlint.cli.revisions import earlier_policy, read_earlier  # noqa: PLC0415 - git

        if earlier_policy(given.against, given.policy) is not None:
            print_errors(
                f"The policy {given.policy} is not as it was in {given.against}. Both sets are "
                "judged by it as it is now. orderlint review --against shows what only the policy "
                "of now finds."
            )
        earlier = recorder.read_by(functools.partial(read_earlier, given.against), given.after)
    later = recorder.read(given.after)
    if earlier is None:
        alone = _all_new(later, given, site)
        recorder.found(alone.verdict, (alone.assessment,))
        return report(alone, wanted)
    try:
        result: Result[Any] = orderlint.compare(
            earlier.data,
            later.data,
            names=(earlier.name, later.name),
            at=given.at,
            policy=site,
            concept_map=read_codes(given.concept_map),
            effort=given.effort,
            watched=watched,
        )
    except DifferentKindsError as error:
        raise click.UsageError(str(error)) from None
    # The later of two orders counts by itself too.
    also = (result.found.after.assessment,) if result.verb == "compare orders" else ()
    recorder.found(result.verdict, (result.assessment, *also))
    return report(result, wanted, also)


def _all_new(later: Content, given: _CompareArguments, site: SitePolicy | None) -> Result[Any]:
    """Of an order set that was not there all is new: what is found in it by itself."""
    codes = read_codes(given.concept_map)
    if as_set(later.read(), codes).kind != "order-set":
        raise Refused("It was not there in that revision; verify this order by itself.", later.name)
    print_errors(f"{later.name} was not there in that revision: all of it is new.")
    return orderlint.review(
        later.data,
        name=later.name,
        at=given.at,
        policy=site,
        concept_map=codes,
        effort=given.effort,
    )
