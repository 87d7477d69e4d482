"""Files that were not checked, and why: as each report and standard error name them.

Never a file that was checked, and never an exit status.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from orderlint.finding import Place, Refused


class Unread(NamedTuple):
    """A file that was not checked: it was refused or, if `is_fault`, the tool failed on it.

    `place` is where the reason stands, `also` the other place involved; None if there is none.
    """

    file: str
    message: str
    place: Place | None = None
    also: Place | None = None
    is_fault: bool = False

    @property
    def reason(self) -> str:
        """Why the file was not checked, without its place."""
        return f"{self.message} (the other is at {self.also})" if self.also else self.message

    def __str__(self) -> str:
        # The words for a fault of the tool name the tool and the file already.
        return self.message if self.is_fault else f"{self.place or self.file}: {self.reason}"


def refused_file(file: str, reason: Refused) -> Unread:
    """A file that was refused for this reason."""
    place = None if isinstance(reason.place, str) else reason.place
    return Unread(file, reason.message, place, reason.also)
