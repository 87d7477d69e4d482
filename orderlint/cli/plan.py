"""The verb `plan`: lists what is due when under a written order, with volumes and bags.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

from datetime import datetime

import click

import orderlint
from orderlint.cli import options
from orderlint.cli.inputs import read_codes, read_input, read_site_policy, shown_name
from orderlint.cli.results import Wanted, report

_EPILOG = """\b
For example:
  orderlint plan order.yaml --from 2026-03-02T15:00:00-06:00
  orderlint plan order.yaml --from 2026-03-02T15:00:00-06:00 --format ics

\b
Exit status:
  0   nothing at the level of --fail-at or above
  1   a finding, or a rule that could not be checked, at that level or above
  2   wrong usage, or a file that could not be read or is not an order
  70  a fault of the tool itself; there is no plan"""

_LONGEST = 168


def _start(_ctx: click.Context, _option: click.Parameter, text: str) -> datetime:
    """The instant, with the offset from UTC that it was given with."""
    if options.instant_of(text) < 0:  # older offsets had seconds, which no calendar shows
        raise click.BadParameter("a plan starts in 1970 or later.")
    return datetime.fromisoformat(text)


@click.command("plan", epilog=_EPILOG, short_help="What is due when under a written order.")
@click.argument("file", metavar="ORDER", type=options.FILE)
@click.option(
    "--from",
    "start",
    metavar="TIME",
    required=True,
    callback=_start,
    help="When the plan starts, ISO 8601 with an offset.",
)
@click.option(
    "--hours",
    type=click.IntRange(1, _LONGEST),
    default=24,
    show_default=True,
    help="How long it is, in hours.",
)
@options.format_option("text", "json", "html", "ics")
@options.report_options(options.concept_map, has_detail=True)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str,
    start: datetime,
    hours: int,
    at: int,
    policy: str | None,
    concept_map: str | None,
    wanted: Wanted,
) -> int:
    """Plan the hours from --from on, by ORDER, a YAML or JSON file or - for standard input.

    The order is checked first, and the verdict stands on top. Then come a timetable, volumes for
    each shift and day, and bags to send up; with --detail also what the controller would do at
    each pressure, and figures of pressure and volume. Only what is written is reckoned with; what
    that does not suffice for is named.
    """
    wanted = wanted._replace(
        output=options.checked_output(wanted.output, (file, policy, concept_map))
    )
    plan = orderlint.plan(
        read_input(file),
        start=start,
        hours=hours,
        name=shown_name(file),
        at=options.datetime_of(at),
        policy=read_site_policy(policy),
        concept_map=read_codes(concept_map),
    )
    return report(plan, wanted)
