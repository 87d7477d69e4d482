"""Appends lines to a file that several processes write to: all of them whole, or none.

Never what the lines say.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import time
from typing import TYPE_CHECKING

from orderlint.own_files import CannotWrite, lock_file

if TYPE_CHECKING:
    from collections.abc import Sequence

LONGEST_WAIT = 10.0
"""Seconds for which another process may hold the file."""
_PAUSE = 0.005
# A link could lead to any other file; a pipe without a reader would be waited for.
_FLAGS = os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
_PLAINLY = {
    errno.ELOOP: "it is a link",
    errno.EISDIR: "it is a directory",
    errno.ENOENT: "there is no such folder",
}


def append_lines(lines: Sequence[str], file: str, start: str) -> None:
    """Append lines of ASCII, each ending in a line feed, to `file`: all of them or none.

    `start` is how every line starts, so that no file of another kind is spoiled. A new file is its
    owner's alone. A last line that a crash cut short is ended, never joined. What is appended lies
    on the disk. Raises CannotWrite.
    """
    try:
        descriptor = os.open(file, _FLAGS, 0o600)
        try:
            _append(descriptor, "".join(lines).encode("ascii"), start.encode("ascii"))
        finally:
            os.close(descriptor)
    except (OSError, ValueError) as error:
        raise CannotWrite(f"Nothing could be appended to {file}: {_reason(error)}.") from None


def _reason(error: OSError | ValueError) -> str:
    if not isinstance(error, OSError):
        return "it is not a file name"
    return _PLAINLY.get(error.errno or 0) or error.strerror or str(error)


def _append(descriptor: int, data: bytes, start: bytes) -> None:
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        raise OSError(0, "it is not an ordinary file")
    _lock(descriptor)
    now = os.fstat(descriptor)
    if not now.st_nlink:
        raise OSError(0, "it was deleted meanwhile")
    if not start.startswith(os.pread(descriptor, len(start), 0)):
        raise OSError(0, "it holds something else")
    if now.st_size and os.pread(descriptor, 1, now.st_size - 1) != b"\n":
        data = b"\n" + data
    try:
        if os.write(descriptor, data) < len(data):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        os.fsync(descriptor)
    except BaseException:
        with contextlib.suppress(OSError):
            os.ftruncate(descriptor, now.st_size)
        raise


def _lock(descriptor: int) -> None:
    """Hold the file until it is closed. Raises OSError where another holds it for too long."""
    until = time.monotonic() + LONGEST_WAIT
    while True:
        try:
            lock_file(descriptor)
        except BlockingIOError:
            if time.monotonic() > until:
                raise OSError(0, "another process holds it") from None
            time.sleep(_PAUSE)
        else:
            return
