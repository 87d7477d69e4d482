"""The manual page, made of what the commands' --help says: `python tests/manual.py` writes it anew.

In the macros of man(7). The page itself ships with the tool, so that `man orderlint` finds it.
"""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import TYPE_CHECKING

import click

from orderlint import __version__
from orderlint.cli import program

if TYPE_CHECKING:
    from collections.abc import Iterator

PAGE = Path(__file__).resolve().parents[1] / "orderlint" / "cli" / "orderlint.1"
_KEEP_LINES = "\b"
"""What click takes for: the lines of this paragraph stay as they are."""


def manual() -> str:
    """The whole page, ending in a line feed."""
    context = click.Context(program, info_name="orderlint", **program.context_settings)
    lines = [
        f'.TH ORDERLINT 1 "" "orderlint {__version__}" "User Commands"',
        ".SH NAME",
        "orderlint \\- check orders for ventricular irrigation and drainage",
        ".SH SYNOPSIS",
        f".B orderlint\n{_plain('VERB [OPTIONS] FILE...')}",
        ".SH DESCRIPTION",
        *_paragraphs(program.help),
        ".PP",
        *_paragraphs(program.epilog),
    ]
    for name in program.list_commands(context):
        verb = program.get_command(context, name)
        lines += _verb(verb, click.Context(verb, parent=context, info_name=name))
    return "\n".join(lines) + "\n"


def _verb(verb: click.Command, context: click.Context) -> Iterator[str]:
    yield f'.SH "{verb.name.upper()}"'
    yield f".B {_plain(f'orderlint {verb.name}')}"
    yield _plain(" ".join(verb.collect_usage_pieces(context)))
    yield ".PP"
    yield from _paragraphs(verb.help)
    for parameter in verb.get_params(context):
        if isinstance(parameter, click.Option):
            names, says = parameter.get_help_record(context)
            yield f".TP\n.B {_plain(names)}\n{_plain(says)}"
    yield ".PP"
    yield from _paragraphs(verb.epilog)


def _paragraphs(text: str) -> Iterator[str]:
    """Paragraphs apart; those whose lines stay as they are, after a mark of click's, kept so."""
    for number, paragraph in enumerate(inspect.cleandoc(text).split("\n\n")):
        if number:
            yield ".PP"
        if paragraph.startswith(_KEEP_LINES):
            yield "\n".join((".nf", *map(_plain, paragraph.splitlines()[1:]), ".fi"))
        else:
            yield _plain(" ".join(paragraph.split()))


def _plain(text: str) -> str:
    """A text in which nothing is taken for a macro or an escape, and a hyphen stays one."""
    safe = text.replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{safe}" if safe.startswith((".", "'")) else safe


if __name__ == "__main__":
    PAGE.write_text(manual(), encoding="utf-8")
