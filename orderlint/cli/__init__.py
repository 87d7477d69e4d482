"""The command line: arguments, files, exit status. Each verb is a module, imported when called.

Only click and what leaves the program. Never a finding, its wording, or a verdict.
"""

from __future__ import annotations

import importlib
import sys
from typing import TYPE_CHECKING, NoReturn

import click

from orderlint import __version__
from orderlint.cli.exit_status import INTERRUPTED, USAGE
from orderlint.cli.interrupts import stoppable
from orderlint.cli.outputs import print_errors, print_failure, write_stdout

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

_EPILOG = """\b
For example:
  orderlint verify order.yaml

\b
To complete verbs, options, files and rules, have your shell run at its start:
  bash  eval "$(_ORDERLINT_COMPLETE=bash_source orderlint)"
  zsh   eval "$(_ORDERLINT_COMPLETE=zsh_source orderlint)"
  fish  _ORDERLINT_COMPLETE=fish_source orderlint | source"""
_VERBS = (
    *("ask", "audit", "compare", "convert", "draft", "new", "page", "plan", "readback", "review"),
    *("rules", "serve", "verify"),
)


def _showing(text: Callable[[click.Context], str], words: str, *flags: str) -> click.Option:
    """An option that shows a text and ends the program."""

    # click's own would write it with a short write unseen, and end in a traceback on a full disk.
    def show(context: click.Context, _option: click.Parameter, is_asked: bool) -> None:
        if is_asked and not context.resilient_parsing:
            write_stdout(f"{text(context)}\n")
            context.exit()

    once = {"is_flag": True, "expose_value": False, "is_eager": True}
    return click.Option(flags, help=words, callback=show, **once)


_HELP = _showing(click.Context.get_help, "Show this message and exit.", "-h", "--help")
_VERSION = _showing(
    lambda _: f"orderlint, version {__version__}", "Show the version and exit.", "--version"
)


class _Verbs(click.Group):
    def get_help_option(self, ctx: click.Context) -> click.Option:  # noqa: ARG002 - click's own
        return _HELP

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's own
        return list(_VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in _VERBS:
            return None
        command: click.Command = importlib.import_module(f"orderlint.cli.{cmd_name}").command
        if command.add_help_option:
            command.add_help_option = False
            command.params.append(_HELP)
        return command


@click.group(cls=_Verbs, params=[_VERSION], epilog=_EPILOG)
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
        with stoppable():
            status: int = program.main(arguments, prog_name="orderlint", standalone_mode=False)
    except click.ClickException as error:
        print_errors(*_usage_lines(error))
        return USAGE
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except Exception as error:  # a crash must never look like a finding
        return print_failure(error)
    return status


def _usage_lines(error: click.ClickException) -> list[str]:
    """What is wrong with the call and, where that helps, how it goes."""
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is None or isinstance(error, click.exceptions.NoArgsIsHelpError):
        return error.format_message().splitlines()
    message = f"orderlint: {error.format_message()} For help: {context.command_path} --help"
    return [context.get_usage(), message]
