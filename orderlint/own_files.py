"""Files of the user's own: who could have put them there, and how one is replaced whole.

Never what stands in them.
"""

from __future__ import annotations

import contextlib
import os
import stat
from typing import BinaryIO

PART = ".part"
"""How the name of a file ends that is being written, and is not whole."""
PRIVATE = 0o600
"""The rights of a file that is its owner's alone."""


class CannotWrite(Exception):  # noqa: N818 - a state of the target, said in plain words
    """Results that could not be written; the message says why."""


def why(error: Exception) -> str:
    """Why something could not be written: in the system's words where it has some."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def fault_of_folder(found: os.stat_result) -> str | None:
    """Why somebody else could put files into a folder, None if nobody can."""
    if found.st_uid != os.geteuid():
        return "it belongs to another user"
    return "others may write to it" if found.st_mode & 0o022 else None


def fault_of_file(found: os.stat_result) -> str | None:
    """Why a file may be from somebody else, None if it cannot be."""
    if not stat.S_ISREG(found.st_mode):
        return "it is not a plain file"
    if found.st_uid != os.geteuid():
        return "it belongs to another user"
    return "it is open to others than its owner" if stat.S_IMODE(found.st_mode) != PRIVATE else None


def replace(
    name: str, data: bytes, mode: int | None, folder: int | None = None, *, lock: bool = False
) -> BinaryIO:
    """Put a new file in the place of `name`, whole or not at all; the file, to be closed.

    `mode` is that of the file, None what the umask leaves. `folder` is an open one in which `name`
    stands. With `lock`, the file is locked as long as it is open. Raises OSError.
    """
    part = os.path.join(os.path.dirname(name), f".orderlint-{os.urandom(8).hex()}{PART}")
    try:
        file = _new(part, 0o666 if mode is None else PRIVATE, folder)
        try:
            if lock:
                lock_file(file)
            write_all(file, data)
            if mode is not None:
                os.fchmod(file.fileno(), mode)
            os.fsync(file.fileno())
            os.replace(part, name, src_dir_fd=folder, dst_dir_fd=folder)
        except BaseException:
            file.close()
            raise
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(part, dir_fd=folder)
        raise
    return file


def _new(name: str, mode: int, folder: int | None) -> BinaryIO:
    """A new file, never one that is there or that a link leads to."""

    def opened(name: str, _flags: int) -> int:
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW
        return os.open(name, flags, mode, dir_fd=folder)

    return open(name, "wb", buffering=0, opener=opened)


def lock_file(file: BinaryIO | int) -> None:
    """Lock an open file as long as it is open. Raises BlockingIOError where another has it."""
    import fcntl  # noqa: PLC0415 - only what is kept is locked

    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def write_all(stream: BinaryIO, data: bytes) -> None:
    """Write to the last byte: a stream without a buffer may take a part at a time.

    Raises OSError, as where a disk is full after such a part.
    """
    left = memoryview(data)
    while left:
        taken = stream.write(left)
        if taken is None:  # it takes nothing just now, and does not wait by itself
            import select  # noqa: PLC0415 - cold start

            select.select([], [stream], [])
        else:
            left = left[taken:]
