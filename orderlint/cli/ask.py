"""The verb `ask`: the message to whoever can answer what was found in an order.

Arguments in, message out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from orderlint.cli.exit_status import USAGE, status_of
from orderlint.cli.inputs import digest_of, read_input, rulebook_under, shown_name
from orderlint.cli.options import (
    FILE,
    at_option,
    fail_at_option,
    format_option,
    output_beside,
    output_option,
    policy_option,
)
from orderlint.cli.outputs import CannotWrite, print_errors, text_style, write
from orderlint.finding import Level, Refused

if TYPE_CHECKING:
    from orderlint.message import Message

_EPILOG = """\b
For example:
  orderlint ask order.yaml
  orderlint ask order.yaml --whom pharmacy

\b
Exit status:
  0   nothing at the level of --fail-at or above was found in the order
  1   something was, or a rule at that level could not be checked
  2   wrong usage, or a file that could not be read or is not an order
  70  a fault of the tool itself; there is no message"""


@click.command("ask", epilog=_EPILOG, short_help="The message that asks what is to be asked.")
@click.argument("file", metavar="ORDER", type=FILE)
@click.option(
    "--whom",
    type=click.Choice(["prescriber", "pharmacy", "second nurse", "author"]),
    default="prescriber",
    show_default=True,
    help="Whom the message is for.",
)
@format_option("text", "json", "html")
@fail_at_option
@at_option
@policy_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str,
    whom: str,
    form: str,
    fail_at: str,
    at: int,
    policy: str | None,
    output: str | None,
) -> int:
    """Word the call about ORDER: situation, background, assessment, request.

    At most three questions at a time, do-not-start first, with blanks for what only the caller
    can see. It asks what was meant; it never proposes a dose or a level.
    """
    output = output_beside(output, (file, policy))
    try:
        data = read_input(file)
        message = _message(data, shown_name(file), whom, at, policy)
        text = _as(form, message, data, output, at)
        write(text, output, None if form == "text" else "utf-8")
    except (Refused, CannotWrite) as reason:
        print_errors(str(reason))
        return USAGE
    return status_of(message.verified, Level(fail_at))


def _message(data: bytes, name: str, whom: str, at: int, policy: str | None) -> Message:
    from orderlint.message import message_to  # noqa: PLC0415 - cold start
    from orderlint.verification import verify  # noqa: PLC0415 - cold start

    return message_to(whom, verify(data, name, at, rulebook_under(policy)))


def _as(form: str, message: Message, data: bytes, output: str | None, at: int) -> str:
    if form == "json":
        from orderlint.report.ask.json import render  # noqa: PLC0415 - cold start

        return render(message, at)
    if form == "html":
        from orderlint.report.ask.page import render as render_page  # noqa: PLC0415 - cold start

        return render_page(message, digest_of(data))
    from orderlint.report.ask.text import render as render_text  # noqa: PLC0415 - cold start

    _, width = text_style("never", output)
    return render_text(message, width=width)
