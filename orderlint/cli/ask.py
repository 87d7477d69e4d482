"""The verb `ask`: the message to whoever can answer what was found in an order.

Arguments in, message out. Imports the rooms behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import orderlint
from orderlint.cli.inputs import load_policy, read_input, shown_name
from orderlint.cli.options import (
    FILE,
    at_option,
    datetime_of,
    fail_at_option,
    format_option,
    output_beside,
    output_option,
    policy_option,
)
from orderlint.cli.results import Wanted, run_one

if TYPE_CHECKING:
    from orderlint import Result
    from orderlint.api.message import Person
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
    type=click.Choice(["prescriber", "pharmacy", "second nurse", "transcriber", "author"]),
    default="prescriber",
    show_default=True,
    help="Whom the message is for. The transcriber is whoever typed the order into the file.",
)
@format_option("text", "json", "html")
@fail_at_option
@at_option
@policy_option
@output_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str,
    whom: Person,
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

    def make() -> Result[Message]:
        data = read_input(file)
        return orderlint.ask(
            data,
            whom=whom,
            name=shown_name(file),
            at=datetime_of(at),
            policy=load_policy(policy),
        )

    return run_one(make, Wanted(form, fail_at, output))
