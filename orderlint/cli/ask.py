"""The verb `ask`: words the message to whoever can answer what was found in an order.

Arguments in, report out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import orderlint
from orderlint.cli import options
from orderlint.cli.inputs import read_codes, read_input, read_site_policy, shown_name
from orderlint.cli.results import Wanted, report

if TYPE_CHECKING:
    from orderlint.api.verbs import Person

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
@click.argument("file", metavar="ORDER", type=options.FILE)
@click.option(
    "--whom",
    type=click.Choice(["prescriber", "pharmacy", "second nurse", "transcriber", "author"]),
    help="Whom the message is for; whoever can answer the heaviest finding, if not given. The "
    "transcriber is whoever typed the order into the file.",
)
@options.format_option("text", "json", "html")
@options.report_options(options.concept_map, has_color=False)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: str,
    whom: Person | None,
    at: int,
    policy: str | None,
    concept_map: str | None,
    wanted: Wanted,
) -> int:
    """Word the call about ORDER: situation, background, assessment, request.

    At most three questions at a time, do-not-start first, with blanks for what only the caller
    can see. It asks what was meant; it never proposes a dose or a level.
    """
    wanted = wanted._replace(
        output=options.checked_output(wanted.output, (file, policy, concept_map))
    )
    message = orderlint.ask(
        read_input(file),
        whom=whom,
        name=shown_name(file),
        at=options.datetime_of(at),
        policy=read_site_policy(policy),
        concept_map=read_codes(concept_map),
    )
    return report(message, wanted)
