"""The command line: arguments, files, exit status. Each verb is a module, imported when called.

Only click and what leaves the program. Never a finding, its wording, or a verdict.
"""

from __future__ import annotations

import functools
import importlib
import sys
from typing import TYPE_CHECKING

import click

from orderlint import __version__
from orderlint.cli.exit_status import INTERNAL_FAULT, INTERRUPTED, USAGE, fault_words
from orderlint.cli.outputs import CannotWrite, print_errors, write_stdout

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import NoReturn

_EPILOG = """\b
For example:
  orderlint verify order.yaml

\b
To complete verbs, options, files and rules, have your shell run at its start:
  bash  eval "$(_ORDERLINT_COMPLETE=bash_source orderlint)"
  zsh   eval "$(_ORDERLINT_COMPLETE=zsh_source orderlint)"
  fish  _ORDERLINT_COMPLETE=fish_source orderlint | source"""
_VERBS = ("ask", "compare", "new", "plan", "readback", "review", "rules", "verify")


def _show(ctx: click.Context, option: click.Parameter, wanted: bool) -> None:
    """Show help or version to its last byte, as click itself does not look."""
    if not wanted or ctx.resilient_parsing:
        return
    text = ctx.get_help() if option is _HELP else f"orderlint, version {__version__}"
    try:
        write_stdout(f"{text}\n")
    except CannotWrite as reason:
        print_errors(str(reason))
        ctx.exit(USAGE)
    ctx.exit()


_shows = functools.partial(
    click.Option, is_flag=True, is_eager=True, expose_value=False, callback=_show
)
_HELP = _shows(["-h", "--help"], help="Show this message and exit.")
_VERSION = _shows(["--version"], help="Show the version and exit.")


class _Verbs(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's own
        return list(_VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in _VERBS:
            return None
        command: click.Command = importlib.import_module(f"orderlint.cli.{cmd_name}").command
        if _HELP not in command.params:
            command.params.append(_HELP)
        return command


@click.group(cls=_Verbs, epilog=_EPILOG, params=[_VERSION, _HELP])
def program() -> None:
    """Checks a written order for ventricular irrigation and drainage before it is keyed in.

    It is decision support: it compares only what is written, and does not replace the prescriber,
    the pharmacist, the manufacturer's instructions or local policy.
    """


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line with `arguments`, those of the process if None, and exit.

    Exit status: 0 nothing at or above the level asked for, 1 findings, 2 usage or a file that was
    not read, 70 a fault of the tool itself.
    """
    sys.exit(_status(arguments))


def _status(arguments: Sequence[str] | None) -> int:
    try:
        status: int = program.main(arguments, prog_name="orderlint", standalone_mode=False)
    except click.ClickException as error:
        print_errors(*_usage_lines(error))
        return USAGE
    except click.Abort:
        return INTERRUPTED
    except Exception as error:  # a crash must never look like a finding
        print_errors(fault_words(error))
        return INTERNAL_FAULT
    return status


def _usage_lines(error: click.ClickException) -> list[str]:
    """What is wrong with the call and, where that helps, how it goes."""
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is None or isinstance(error, click.exceptions.NoArgsIsHelpError):
        return error.format_message().splitlines()
    message = f"orderlint: {error.format_message()} For help: {context.command_path} --help"
    return [context.get_usage(), message]
