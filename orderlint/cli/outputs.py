"""Writes results: to standard output, or to a file that is written whole or not at all.

Encoding, colour and writing. Never what is written.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import TextIO

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


class CannotWrite(Exception):  # noqa: N818 - a state of the target, said in plain words
    """Results that could not be written; the message says why."""


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


def write(text: str, output: str | None, encoding: str | None) -> bool:
    """Write to the file `output`, or to standard output in `encoding`. Raises CannotWrite.

    False where the reader of standard output has gone before its end.
    """
    if output is None:
        return write_stdout(text, encoding)
    write_file(text, output)
    return True


def encoded(text: str, encoding: str) -> bytes:
    """`text` in `encoding`; what that lacks is written plainly, or as an escape."""
    try:
        return text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        known = encoding if _is_known(encoding) else "ascii"
        return text.translate(_PLAIN).encode(known, "backslashreplace")


def to_ascii(text: str) -> str:
    """`text` in ASCII alone; what that lacks is written plainly, or as an escape."""
    return encoded(text, "ascii").decode("ascii")


def _is_known(encoding: str) -> bool:
    try:
        "".encode(encoding)
    except LookupError:
        return False
    return True


def print_errors(*lines: str) -> None:
    """Lines on standard error, made safe. Raises nothing: there is nowhere left to say it."""
    from click import echo  # noqa: PLC0415 - it also knows a standard error that is closed

    from orderlint.report.visible_text import safe  # noqa: PLC0415 - cold start

    # INVARIANT: Python opens standard error with backslashreplace, so that any text can be shown.
    with contextlib.suppress(OSError):
        echo("\n".join(map(safe, lines)), err=True)


def write_stdout(text: str, encoding: str | None = None) -> bool:
    """Write to standard output; quietly nothing more, and False, where its reader has gone.

    `encoding` is that of standard output unless given. Raises CannotWrite, as on a full disk.
    """
    if sys.stdout is None:
        raise CannotWrite("The results could not be written: standard output is closed.")
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(encoded(text, encoding or sys.stdout.encoding))
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        # Else the interpreter complains on its way out, when it flushes what could not be sent.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return False
    except OSError as error:
        raise CannotWrite(f"The results could not be written: {error.strerror}.") from None
    return True


def same_file(output: str, inputs: Iterable[str]) -> bool:
    """Whether `output` is one of the inputs, by whatever name or link; `-` is no file."""
    target = Path(output)
    for file in (file for file in inputs if file != "-"):
        try:
            if target.resolve() == Path(file).resolve() or target.samefile(file):
                return True
        except (OSError, RuntimeError):  # RuntimeError: links that lead round in a circle
            continue
    return False


def write_file(text: str, output: str, *, private: bool = False) -> None:
    """Write UTF-8 to `output`, whole or not at all. Raises CannotWrite.

    A file that is `private` can be read by its owner alone, whatever it was before.
    """
    try:
        _replace(Path(output).resolve(), text.encode("utf-8", "backslashreplace"), private)
    except (OSError, ValueError, RuntimeError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
        raise CannotWrite(f"The results could not be written to {output}: {reason}.") from None


def _replace(target: Path, data: bytes, private: bool) -> None:
    if target.exists() and not stat.S_ISREG(target.stat().st_mode):
        raise OSError(0, "It is not an ordinary file")
    # A report may be about a patient: a new file is its owner's alone, an old one keeps its mode.
    keeps_mode = target.exists() and not private
    mode = stat.S_IMODE(target.stat().st_mode) if keeps_mode else 0o600
    beside = target.with_name(f".orderlint-{os.getpid()}.part")
    try:
        with open(beside, "xb", opener=lambda name, flags: os.open(name, flags, 0o600)) as stream:
            os.fchmod(stream.fileno(), mode)
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
