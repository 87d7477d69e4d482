"""The verb `plan`: what is due when under a written order, with volumes and bags.

Arguments in, plan out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from orderlint.cli.exit_status import USAGE, status_of
from orderlint.cli.inputs import digest_of, read_input, rulebook_under, shown_name
from orderlint.cli.options import (
    FILE,
    at_option,
    color_option,
    fail_at_option,
    format_option,
    instant_of,
    output_beside,
    output_option,
    policy_option,
)
from orderlint.cli.outputs import CannotWrite, print_errors, text_style, write
from orderlint.finding import Level, Refused

if TYPE_CHECKING:
    from orderlint.shift_plan import Plan

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


def _start(_ctx: click.Context, _option: click.Parameter, text: str) -> tuple[int, int]:
    """The instant in milliseconds since 1970 UTC, and its offset from UTC in seconds."""
    from datetime import datetime  # noqa: PLC0415 - cold start

    instant = instant_of(text)
    if instant < 0:  # older offsets had seconds, which no calendar shows
        raise click.BadParameter("a plan starts in 1970 or later.")
    offset = datetime.fromisoformat(text).utcoffset()
    assert offset is not None  # INVARIANT: a time without its offset is no instant
    return instant, int(offset.total_seconds())


@click.command("plan", epilog=_EPILOG, short_help="What is due when under a written order.")
@click.argument("file", metavar="ORDER", type=FILE)
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
@format_option("text", "json", "html", "ics")
@fail_at_option
@at_option
@policy_option
@color_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str,
    start: tuple[int, int],
    hours: int,
    form: str,
    fail_at: str,
    at: int,
    policy: str | None,
    color: str,
    output: str | None,
) -> int:
    """Plan the hours from --from on, by ORDER, a YAML or JSON file or - for standard input.

    The order is checked first, and the verdict stands on top. Then come a timetable, volumes for
    each shift and day, bags to send up, what the controller would do at each pressure, and
    figures of pressure and volume. Only what is written is reckoned with; what that does not
    suffice for is named.
    """
    output = output_beside(output, (file, policy))
    try:
        data = read_input(file)
        plan = _plan(data, shown_name(file), start, hours, at, policy)
        if form == "html":
            text = _page(plan, digest_of(data), at)
        else:
            text = _as(form, plan, color, output, at)
        write(text, output, None if form == "text" else "utf-8")
    except (Refused, CannotWrite) as reason:
        print_errors(str(reason))
        return USAGE
    return status_of(plan.verified, Level(fail_at))


def _plan(  # noqa: PLR0913, PLR0917 - a file is its bytes and its name
    data: bytes, name: str, start: tuple[int, int], hours: int, at: int, policy: str | None
) -> Plan:
    from orderlint.shift_plan import plan_of  # noqa: PLC0415 - cold start
    from orderlint.verification import verify  # noqa: PLC0415 - cold start

    rulebook = rulebook_under(policy)
    verified = verify(data, name, at, rulebook)
    instant, offset = start
    return plan_of(verified, instant, hours, offset, rulebook.values["csf_rate"])


def _page(plan: Plan, digest: str, at: int) -> str:
    from orderlint.report.plan.page import render  # noqa: PLC0415 - cold start

    return render(plan, digest, at)


def _as(form: str, plan: Plan, color: str, output: str | None, at: int) -> str:
    if form == "json":
        from orderlint.report.plan.json import render  # noqa: PLC0415 - cold start

        return render(plan, at)
    if form == "ics":
        from orderlint.report.plan.calendar import render  # noqa: PLC0415 - cold start

        return render(plan, at)
    from orderlint.report.plan.text import render as render_text  # noqa: PLC0415 - cold start

    painted, width = text_style(color, output)
    return render_text(plan, color=painted, width=width, at=at)
