"""The verb `draft`: reads a prescriber's sentences, and has a person confirm what was read.

Arguments in, a document out. Imports the modules behind it only when it runs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from orderlint.api.renderers import RENDERERS
from orderlint.cli import options
from orderlint.cli.exit_status import BELOW, FINDINGS, INTERRUPTED, STOPPED
from orderlint.cli.inputs import read_content
from orderlint.cli.output_files import write
from orderlint.cli.outputs import print_errors

if TYPE_CHECKING:
    from orderlint.api.sources import Content
    from orderlint.sentences.draft import Draft

_EPILOG = """\b
For example:
  orderlint draft note.txt --output draft.yaml
  orderlint draft --confirm draft.yaml --output order.yaml

\b
Exit status:
  0    all of the text is understood; with --confirm, the order was written
  1    some of it is not; with --confirm, something was not confirmed, and
       the draft was written again with what was
  2    wrong usage, or a file that could not be read or is not what it says
  3    stopped before all was answered: by `stop` or at the end of input
  130  the same, by an interrupt; nothing was written"""


@click.command("draft", epilog=_EPILOG, short_help="Sentences to an order, confirmed line by line.")
@click.argument("file", metavar="FILE", type=options.FILE)
@click.option(
    "--confirm",
    is_flag=True,
    help="FILE is a draft: ask of each line whether it is what is written, then write the order.",
)
@options.file_option(
    "--output",
    "Write to this file, whole or not at all; to standard output, if not given.",
)
def command(file: str, confirm: bool, output: str | None) -> int:
    """Read the sentences in FILE, or - for standard input, as the lines of an order.

    A clause is understood whole or not at all; what is not understood is listed. Nothing of a draft
    counts before a person has confirmed it: verify calls it incomplete.
    """
    output = options.checked_output(output, (file,))
    if confirm and file == "-":
        raise click.UsageError("Standard input has the answers; no draft can be read from it.")
    content = read_content(file)
    return _confirm(content, output) if confirm else _draft(content, output)


def _draft(content: Content, output: str | None) -> int:
    from orderlint.sentences.draft import drafted  # noqa: PLC0415 - cold start

    draft = drafted(content.data, content.name, content.digest)
    write(RENDERERS["draft", "draft"](draft, {}), output, "utf-8")
    return BELOW if draft.is_understood else FINDINGS


def _confirm(content: Content, output: str | None) -> int:
    from orderlint.cli.readback_prompts import NoMore  # noqa: PLC0415 - cold start
    from orderlint.sentences.draft import read_draft  # noqa: PLC0415 - cold start

    try:
        draft = _asked(read_draft(content.read("draft")))
    except (NoMore, KeyboardInterrupt) as how:
        print_errors("Stopped. Nothing was written.")
        return INTERRUPTED if isinstance(how, KeyboardInterrupt) else STOPPED
    form = "order" if draft.is_confirmed else "draft"
    write(RENDERERS["draft", form](draft, {}), output, "utf-8")
    if not draft.is_confirmed:
        where = f"{output} is" if output else "What was written is"
        print_errors(f"Not all was confirmed. {where} a draft, and no order.")
    return BELOW if draft.is_confirmed else FINDINGS


def _asked(draft: Draft) -> Draft:
    """The draft with a person's answers. Raises NoMore."""
    from dataclasses import replace  # noqa: PLC0415 - cold start

    from orderlint.cli.readback_prompts import ask_either, ask_yes  # noqa: PLC0415 - cold start
    from orderlint.report import draft as words  # noqa: PLC0415 - cold start

    leave_out, keep = frozenset({words.LEAVE_OUT}), frozenset({words.KEEP})
    count = len(draft.lines) + len(draft.rest)
    lines = tuple(
        line._replace(confirmed=ask_yes(words.line_question(line, at, count)))
        for at, line in enumerate(draft.lines, 1)
    )
    rest = tuple(
        item._replace(
            left_out=ask_either(
                words.rest_question(item, at, count), leave_out, keep, words.LEAVE_OUT_OR_NO
            )
        )
        for at, item in enumerate(draft.rest, len(lines) + 1)
    )
    return replace(draft, lines=lines, rest=rest)
