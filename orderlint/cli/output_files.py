"""Writes files whole or not at all: beside the target first, and then in its place.

Names, rights and replacing. Never what is written.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from typing import TYPE_CHECKING, TextIO

from orderlint.cli.outputs import write_stdout
from orderlint.own_files import PRIVATE, CannotWrite, replace, why, write_all

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


def write(text: str, output: str | None, encoding: str | None, *, private: bool = False) -> bool:
    """Write to the file `output`, or to standard output in `encoding`. Raises CannotWrite.

    False where the reader of standard output has gone before its end. `private` is as in
    `write_file`.
    """
    if output is None:
        return write_stdout(text, encoding)
    write_file(text, output, private=private)
    return True


def write_file(text: str, output: str, *, private: bool = False) -> None:
    """Write UTF-8 to `output`, whole or not at all. Raises CannotWrite.

    A new file has the rights that the umask leaves, an old one keeps its own; one that is `private`
    can be read by its owner alone, whatever it was before. To a pipe or a device it is written
    straight.
    """
    from pathlib import Path  # noqa: PLC0415 - cold start

    data = text.encode("utf-8", "backslashreplace")
    try:
        found = _found(output)
        if found is None:
            _replace_target(Path(output).resolve(), data, PRIVATE if private else None)
        elif stat.S_ISREG(found.st_mode) and not is_stream(output, sys.stderr):
            mode = PRIVATE if private else stat.S_IMODE(found.st_mode)
            _replace_target(Path(output).resolve(), data, mode)
        else:
            _write_straight(output, data)
    except (OSError, ValueError, RuntimeError) as error:
        raise CannotWrite(f"The results could not be written to {output}: {why(error)}.") from None


def _found(output: str) -> os.stat_result | None:
    """What stands at `output`, None where nothing does. Raises OSError where it must not go."""
    try:
        found = os.stat(output)  # noqa: PTH116 - a name is looked up just as it was given
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(found.st_mode):
        raise OSError(0, "it is a folder")
    if stat.S_ISBLK(found.st_mode) or stat.S_ISSOCK(found.st_mode):
        raise OSError(0, "it is not an ordinary file")
    # Whoever may write everywhere is told as well that a file was made read-only.
    if not found.st_mode & 0o222 or not os.access(output, os.W_OK):
        raise OSError(0, "the file is read-only")
    return found


def _write_straight(output: str, data: bytes) -> None:
    with open(output, "wb", buffering=0, opener=_opened_to_append) as stream:
        write_all(stream, data)


def _opened_to_append(name: str, _flags: int) -> int:
    """Opened without making it, and without becoming the terminal of this process."""
    return os.open(name, os.O_WRONLY | os.O_APPEND | os.O_NOCTTY)


def _replace_target(target: Path, data: bytes, mode: int | None) -> None:
    if not target.parent.is_dir():
        raise OSError(0, "there is no such folder")
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise OSError(0, "its folder is read-only")
    replace(str(target), data, mode).close()
    with contextlib.suppress(OSError):  # some file systems have no such thing as writing a folder
        opened = os.open(target.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def is_stream(output: str, stream: TextIO | None) -> bool:
    """Whether `output` is where a stream goes to already, as /dev/stdout or by any other name."""
    if stream is None:
        return False
    try:
        return os.path.samestat(os.stat(output), os.fstat(stream.fileno()))  # noqa: PTH116
    except (OSError, ValueError):  # nothing is there, or the stream is not one of the system's
        return False


def same_file(output: str, inputs: Iterable[str]) -> bool:
    """Whether `output` is one of the inputs, by whatever name or link; `-` is no file."""
    from pathlib import Path  # noqa: PLC0415 - cold start

    target = Path(output)
    for file in (file for file in inputs if file != "-"):
        try:
            if target.resolve() == Path(file).resolve() or target.samefile(file):
                return True
        except (OSError, RuntimeError):  # RuntimeError: links that lead round in a circle
            continue
    return False
