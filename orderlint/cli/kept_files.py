"""The folder in which read-backs that were stopped are kept, and the files in it.

Only the user's own, open to nobody else, and each in one hand at a time. Never what is in a file.
"""

from __future__ import annotations

import contextlib
import errno
import os
import time
from pathlib import Path
from typing import BinaryIO

from orderlint import own_files
from orderlint.finding import Refused
from orderlint.own_files import CannotWrite, why

LARGEST = 1024 * 1024
"""Bytes of a kept file that is read."""
_OWN = "orderlint"
_NOT_OWN, _ANEW = "This is not gone on with", "Begin the read-back anew."
_PREFIX, _SUFFIX = "read-back-", ".json"
_TRIES, _PAUSE = 3, 0.05  # in seconds; a file may have been replaced at the same moment
_LONG_ENOUGH = 60  # seconds in which a file that is being written is locked


class InUse(Refused):
    """A kept file that another read-back has."""


class KeptFolder:
    """The folder of kept files, opened once, so that all names are looked up in that one."""

    def __init__(self) -> None:
        """Open the folder and make it if need be.

        Raises Refused where there can be none, it is not the user's, or others may write to it.
        """
        self.path = _state_home() / _OWN
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with contextlib.suppress(FileExistsError):
                self.path.mkdir(mode=0o700)
            flags = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW
            self.opened = os.open(self.path, flags)
        except (OSError, ValueError) as error:
            raise _no_folder(self.path, f"it cannot be made or opened ({why(error)})") from None
        fault = own_files.fault_of_folder(os.fstat(self.opened))
        if fault is not None:
            self.close()
            raise _no_folder(self.path, fault)
        self._sweep()

    def close(self) -> None:
        """Open no more files in it."""
        os.close(self.opened)

    def names(self, digest: str = "") -> list[str]:
        """The kept files, of the order with this digest or of all, the latest first."""
        begin = f"{_PREFIX}{digest[:16]}"
        found = []
        for name in os.listdir(self.opened):  # noqa: PTH208 - an open folder
            if name.startswith(begin) and name.endswith(_SUFFIX):
                with contextlib.suppress(FileNotFoundError):  # gone since
                    found.append((self.stat(name).st_mtime_ns, name))
        return [name for _, name in sorted(found, reverse=True)]

    def stat(self, name: str) -> os.stat_result:
        """What stands under a name, a link itself. Raises FileNotFoundError."""
        return os.stat(name, dir_fd=self.opened, follow_symlinks=False)

    def new(self, digest: str) -> KeptFile:
        """A file for a read-back that begins; it is there once something is kept."""
        return KeptFile(self, f"{_PREFIX}{digest[:16]}-{os.urandom(8).hex()}{_SUFFIX}", None)

    def read(self, name: str) -> bytes:
        """What a kept file has. Raises Refused where it is not the user's own alone."""
        with self._open(name) as file:
            return file.read(LARGEST + 1)

    def take(self, name: str) -> KeptFile:
        """A kept file, locked until it is closed. Raises Refused as `read`, and InUse."""
        for _ in range(_TRIES):
            file = self._open(name)
            try:
                own_files.lock_file(file)
                if os.path.samestat(os.fstat(file.fileno()), self.stat(name)):
                    return KeptFile(self, name, file)
            except (BlockingIOError, FileNotFoundError):
                pass
            except OSError as error:
                file.close()
                reason = f"{_NOT_OWN}: it cannot be locked ({why(error)}). {_ANEW}"
                raise Refused(reason, str(self.path / name)) from None
            file.close()
            time.sleep(_PAUSE)
        raise InUse("Another read-back has this file just now.", str(self.path / name))

    def name_of(self, file: str) -> str:
        """The name in this folder of a file that somebody names. Raises Refused elsewhere."""
        bare = file.startswith(_PREFIX) and os.path.basename(file) == file  # noqa: PTH119
        path = self.path / file if bare else Path(file)
        try:
            inside = os.path.samestat(path.parent.stat(), os.fstat(self.opened))
        except (OSError, ValueError):
            inside = False
        if not inside:
            raise Refused(
                f"Only what is kept in {self.path} is gone on with, as anybody could have put a "
                f"file elsewhere. {_ANEW}",
                file,
            )
        return path.name

    def _open(self, name: str) -> BinaryIO:
        """Raises Refused where it is anything but a plain file of the user, open to nobody else."""
        where = str(self.path / name)
        try:
            # A lock may need the right to write, and a pipe must not wait for somebody to write.
            flags = os.O_RDWR | os.O_NOFOLLOW | os.O_NONBLOCK
            opened = os.open(name, flags, dir_fd=self.opened)
        except FileNotFoundError:
            raise Refused("There is no such file.", where) from None
        except (OSError, ValueError) as error:
            link = isinstance(error, OSError) and error.errno == errno.ELOOP
            reason = "it is a link" if link else why(error)
            raise Refused(f"{_NOT_OWN}: {reason}. {_ANEW}", where) from None
        file = open(opened, "r+b", buffering=0)  # noqa: PTH123, SIM115 - a descriptor
        fault = own_files.fault_of_file(os.fstat(opened))
        if fault is not None:
            file.close()
            raise Refused(f"{_NOT_OWN}: {fault}. {_ANEW}", where)
        return file

    def _sweep(self) -> None:
        """Delete what runs left that were killed while they wrote."""
        for name in os.listdir(self.opened):  # noqa: PTH208 - an open folder
            if name.endswith(own_files.PART):
                with contextlib.suppress(Refused, OSError), self._open(name) as file:
                    own_files.lock_file(file)
                    if time.time() - os.fstat(file.fileno()).st_mtime > _LONG_ENOUGH:
                        os.unlink(name, dir_fd=self.opened)


class KeptFile:
    """The file of one read-back, in nobody else's hand until it is closed."""

    def __init__(self, folder: KeptFolder, name: str, locked: BinaryIO | None) -> None:
        self.folder, self.name = folder, name
        self._locked = locked

    @property
    def path(self) -> str:
        """Where it is."""
        return str(self.folder.path / self.name)

    def save(self, text: str) -> None:
        """Keep a text in place of what is kept, whole or not at all. Raises CannotWrite."""
        data, before = text.encode(), self._locked
        try:
            self._locked = own_files.replace(self.name, data, 0o600, self.folder.opened, lock=True)
        except OSError as error:
            raise CannotWrite(f"{self.path} could not be written: {why(error)}.") from None
        if before is not None:
            before.close()

    def discard(self) -> str | None:
        """Delete it. Why it is still there, None if it is gone."""
        reason = None
        try:
            os.unlink(self.name, dir_fd=self.folder.opened)
        except FileNotFoundError:
            pass
        except OSError as error:
            reason = why(error)
        try:
            self.folder.stat(self.name)
        except FileNotFoundError:
            return None
        return reason or "it is there again"

    def close(self) -> None:
        """Let another read-back have it."""
        if self._locked is not None:
            self._locked.close()
            self._locked = None


def _state_home() -> Path:
    """The folder for what a program keeps between its runs, by the XDG Base Directory standard."""
    given = Path(os.environ.get("XDG_STATE_HOME", ""))
    if given.is_absolute():
        return given
    try:
        home = Path.home()
    except RuntimeError:
        home = Path()
    if not home.is_absolute():
        raise _no_folder(Path("~/.local/state") / _OWN, "there is no home folder")
    return home / ".local" / "state"


def _no_folder(path: Path, reason: str) -> Refused:
    return Refused(
        f"What is entered cannot be kept in this folder: {reason}. Nothing is asked. Set "
        "XDG_STATE_HOME to a folder of your own, or give what was seen as a file.",
        str(path),
    )
