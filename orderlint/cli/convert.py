"""The verb `convert`: writes orders and order sets as resources of FHIR, and back.

Arguments in, a document out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from orderlint.api.renderers import RENDERERS
from orderlint.cli import options
from orderlint.cli.exit_status import BELOW, FINDINGS, USAGE
from orderlint.cli.inputs import read_codes, read_content
from orderlint.cli.output_files import write
from orderlint.cli.outputs import print_errors, text_style

if TYPE_CHECKING:
    from orderlint.fhir.conversion import Conversion

_EPILOG = """\b
For example:
  orderlint convert order.yaml --to fhir --output order.json
  orderlint convert order.json --to orderlint --explain

\b
Exit status:
  0  all of it was written
  1  an order was written, and free texts beside its settings stand in
     comments
  2  wrong usage, a file that could not be read, or one with something that
     has no place in the other form; nothing was written"""


@click.command("convert", epilog=_EPILOG, short_help="Orders and order sets to FHIR, and back.")
@click.argument("file", metavar="FILE", type=options.FILE)
@click.option(
    "--to",
    "form",
    type=click.Choice(["fhir", "orderlint"]),
    required=True,
    help="The form to write: a resource of FHIR R4, or a document of orderlint.",
)
@options.concept_map
@click.option(
    "--explain",
    is_flag=True,
    help="Show which element went where, and what was not understood, on standard output.",
)
@options.file_option(
    "--output",
    "Write to this file, whole or not at all; to standard output, if not given.",
    metavar="OUT",
)
def command(
    file: str, form: str, concept_map: str | None, explain: bool, output: str | None
) -> int:
    """Write FILE, or - for standard input, in the other form.

    An order becomes a Bundle, an order set a Questionnaire, and back. Every value stays as it is
    written, and what has no place in the other form is named, never left out. With --explain the
    document itself is written only to --output.
    """
    output = options.checked_output(output, (file, concept_map))
    made = _converted(file, form, concept_map)
    if explain:
        color, width = text_style("never", None)
        style = {"color": color, "width": width}
        write(RENDERERS["convert", "text"](made, style), None, None)
    if made.text and (output or not explain):
        write(made.text, output, "utf-8")
    print_errors(*made.refused)
    if made.refused:
        return USAGE
    return FINDINGS if made.left else BELOW


def _converted(file: str, form: str, concept_map: str | None) -> Conversion:
    from orderlint.api import conversion  # noqa: PLC0415 - cold start

    if form == "fhir":
        if concept_map is not None:
            raise click.UsageError("--concept-map is for reading FHIR; --to fhir writes it.")
        return conversion.to_fhir(read_content(file))
    return conversion.to_orderlint(read_content(file), read_codes(concept_map))
