"""Writes results to standard output, and messages to standard error.

Encoding, colour and width, and each write to its last byte. Never what is written.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from typing import TYPE_CHECKING, TextIO

from orderlint.cli.exit_status import INTERNAL_FAULT, USAGE, fault_words
from orderlint.finding import Refused, RuleFileRefused
from orderlint.own_files import CannotWrite, why, write_all

if TYPE_CHECKING:
    from collections.abc import Mapping

# What our own words and pictures use beyond ASCII, for a terminal that cannot show it.
_PLAIN = str.maketrans(
    {
        "–": "-",
        "“": '"',
        "”": '"',
        "’": "'",
        "…": "...",
        **dict(zip("│━─╌░▒█≡·×", "|=-.:/#=.x", strict=True)),
    }
)
_USUAL_WIDTH = 80
_WIDEST = 100
_LONGEST_COLUMNS = 6


def use_color(option: str, environment: Mapping[str, str], is_terminal: bool) -> bool:
    """Whether to colour. In turn: the option, NO_COLOR, FORCE_COLOR, TERM=dumb, a terminal."""
    if option != "auto":
        return option == "always"
    if environment.get("NO_COLOR"):
        return False
    if environment.get("FORCE_COLOR"):
        return True
    return environment.get("TERM") != "dumb" and is_terminal


def terminal_width(stream: TextIO) -> int:
    """The columns of the terminal behind `stream`, at most 100; 80 where there is none."""
    try:
        columns = os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):
        return _USUAL_WIDTH
    return min(columns, _WIDEST) or _USUAL_WIDTH


def text_style(color: str, output: str | None) -> tuple[bool, int]:
    """Whether a report for `output`, standard output if None, is coloured, and how wide it is.

    The width is that of COLUMNS where it is set, at most 100, as of a terminal.
    """
    terminal = output is None and sys.stdout is not None and sys.stdout.isatty()
    columns = os.environ.get("COLUMNS", "")
    if columns.isdecimal() and len(columns) < _LONGEST_COLUMNS and int(columns):
        width = min(int(columns), _WIDEST)
    else:
        width = terminal_width(sys.stdout) if terminal else _USUAL_WIDTH
    return use_color(color, os.environ, terminal), width


def encoded(text: str, encoding: str) -> bytes:
    """`text` in `encoding`; what that lacks is written plainly, or as an escape."""
    try:
        return text.encode(encoding)
    except UnicodeEncodeError:
        known = encoding
    except LookupError:
        known = "ascii"
    return text.translate(_PLAIN).encode(known, "backslashreplace")


def to_ascii(text: str) -> str:
    """`text` in ASCII alone; what that lacks is written plainly, or as an escape."""
    return encoded(text, "ascii").decode("ascii")


def print_errors(*lines: str) -> None:
    """Lines on standard error, made safe. Raises nothing: there is nowhere left to say it."""
    from orderlint.report.visible_text import safe  # noqa: PLC0415 - cold start

    with contextlib.suppress(CannotWrite):
        write_stderr("".join(f"{safe(line)}\n" for line in lines))


def print_failure(error: Exception) -> int:
    """Say on standard error why a verb came to no result; the exit status of that."""
    is_ours = isinstance(error, RuleFileRefused) or not isinstance(error, Refused | CannotWrite)
    print_errors(fault_words(error) if is_ours else str(error))
    return INTERNAL_FAULT if is_ours else USAGE


def write_stderr(text: str) -> None:
    """Write to standard error. Raises CannotWrite where nobody can read it."""
    if sys.stderr is None:
        raise CannotWrite("Standard error is closed.")
    try:
        _write_stream(sys.stderr, text, None)
    except (OSError, ValueError) as error:
        raise CannotWrite(str(error)) from None


def write_stdout(text: str, encoding: str | None = None) -> bool:
    """Write to standard output; quietly nothing more, and False, where its reader has gone.

    `encoding` is that of standard output unless given. Raises CannotWrite, as on a full disk.
    """
    if sys.stdout is None:
        raise CannotWrite("The results could not be written: standard output is closed.")
    try:
        _write_stream(sys.stdout, text, encoding)
        _settle(sys.stdout)
    except BrokenPipeError:
        # Else the interpreter complains on its way out, when it flushes what could not be sent.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return False
    except (OSError, ValueError) as error:
        raise CannotWrite(f"The results could not be written: {why(error)}.") from None
    return True


def _write_stream(stream: TextIO, text: str, encoding: str | None) -> None:
    stream.flush()
    # Past the buffer: what it could not write would stay there, and fail once more at the exit.
    straight = getattr(stream.buffer, "raw", stream.buffer)
    write_all(straight, encoded(text, encoding or stream.encoding))


def _settle(stream: TextIO) -> None:
    """Have the system say now what it may say of a file only at its closing: that there is no room.

    Raises OSError.
    """
    try:
        opened = stream.fileno()
    except (OSError, ValueError):  # not one of the system's
        return
    if stat.S_ISREG(os.fstat(opened).st_mode):
        os.fsync(opened)
