"""The verb `new`: writes the beginning of an order, an order set or a site policy.

Arguments in, a text out, and its schema beside it. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

import os
from pathlib import Path

import click

from orderlint.api.renderers import RENDERERS
from orderlint.cli import options
from orderlint.cli.exit_status import BELOW
from orderlint.cli.inputs import load_rulebook
from orderlint.cli.output_files import write_file
from orderlint.cli.outputs import write_stdout
from orderlint.fields import schema_text
from orderlint.own_files import CannotWrite

_EPILOG = """\b
For example:
  orderlint new order-set --output order-sets/irrigation.yaml
  orderlint new order

\b
Exit status:
  0  the document was written
  2  wrong usage, or a file that is there already or could not be written"""


@click.command("new", epilog=_EPILOG, short_help="The beginning of an order, a set or a policy.")
@click.argument("kind", type=click.Choice(["order", "order-set", "site-policy"]))
@options.file_option(
    "--output", "Write it to this new file, with a copy of its schema beside it for an editor."
)
def command(kind: str, output: str | None) -> int:
    """Write a document of that KIND with every field there and empty, to be filled in.

    What may be written stands beside each field. No value is given that an order would have.
    """
    output = options.checked_output(output, ())
    text: str = RENDERERS["new", kind](load_rulebook("order", None), {})
    if output is None:
        write_stdout(text, "utf-8")
    else:
        _write_beside_schema(text, kind, Path(output))
    return BELOW


def _write_beside_schema(text: str, kind: str, output: Path) -> None:
    """Write a new file that names its schema, and that schema where none is beside it."""
    if os.path.lexists(output):
        raise CannotWrite(f"{output} is there already. Nothing was written.")
    schema = output.with_name(f"{kind}.schema.json")
    write_file(f"# yaml-language-server: $schema={schema.name}\n{text}", str(output))
    if not schema.exists():
        write_file(schema_text(kind), str(schema))
