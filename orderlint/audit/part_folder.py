"""Keeps the counts of each part of an audit in a folder, each file whole or not there.

A part is never counted twice, and never under another table, map, policy or rulebook than its own.
Only files. Never a count.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from orderlint.audit.tally import Tally, tally_of
from orderlint.finding import Refused
from orderlint.own_files import CannotWrite, lock_file, replace, why

if TYPE_CHECKING:
    from collections.abc import Mapping


_SIGNS = "audit.json"


class PartFolder:
    """A folder of parts, to be used in a `with` statement: no other run uses it meanwhile.

    With `resume`, a run goes on with the parts that are there; without, there must be none. A part
    is known by the number of its file and that of its first row in it.
    """

    def __init__(self, folder: str, *, resume: bool) -> None:
        self.folder, self.resume = Path(folder), resume
        self._lock: BinaryIO | None = None

    def __enter__(self) -> PartFolder:
        try:
            self.folder.mkdir(exist_ok=True)
            self._lock = (self.folder / ".lock").open("wb")
            lock_file(self._lock)
        except BlockingIOError:
            raise Refused("Another run is using this folder of parts.", str(self.folder)) from None
        except OSError as error:
            said = f"Parts cannot be kept in {self.folder}: {why(error)}."
            raise CannotWrite(said) from None
        return self

    def __exit__(self, *_: object) -> None:
        if self._lock is not None:
            self._lock.close()

    def begin(self, signs: Mapping[str, object]) -> None:
        """Check that the parts that are there are of this audit. Raises Refused."""
        data = {**signs, "format": 2}
        there = self._read(self.folder / _SIGNS)
        if there is None:
            self._write(_SIGNS, data)
            return
        if not self.resume:
            said = "There are parts of an audit here already; go on with them by --resume."
            raise Refused(said, str(self.folder))
        changed = [name for name, sign in data.items() if there.get(name) != sign]
        if changed:
            said = f"The parts here are of another audit: changed is {', '.join(changed)}."
            raise Refused(said, str(self.folder))

    def load(self, file: int, first: int) -> Tally | None:
        """What a part has come to, None where it is not there. Raises Refused."""
        name = self.folder / _name(file, first)
        found = self._read(name)
        if found is None:
            return None
        try:
            return tally_of(found)
        except (KeyError, TypeError, ValueError):
            raise Refused("This is no part of an audit.", str(name)) from None

    def keep(self, file: int, first: int, tally: Tally) -> None:
        """Keep what a part has come to. Raises CannotWrite."""
        self._write(_name(file, first), tally.as_data())

    def _read(self, file: Path) -> dict[str, Any] | None:
        try:
            found = json.loads(file.read_bytes())
        except FileNotFoundError:
            return None
        except (OSError, ValueError):
            found = None
        if not isinstance(found, dict):
            raise Refused("This is no part of an audit.", str(file))
        return found

    def _write(self, name: str, data: Mapping[str, object]) -> None:
        text = json.dumps(data, ensure_ascii=True, separators=(",", ":"))
        try:
            replace(str(self.folder / name), text.encode(), None).close()
        except OSError as error:
            said = f"A part could not be kept in {self.folder}: {why(error)}."
            raise CannotWrite(said) from None


def _name(file: int, first: int) -> str:
    return f"part-{file:05}-{first:012}.json"
