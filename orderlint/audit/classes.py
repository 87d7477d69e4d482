"""The different readings of the texts of one path: each distinct text is read once.

Two texts are of one class if no condition and no check can tell their readings apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.audit.texts import CellReading, alike, read_cell
from orderlint.order import Leaf

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Sequence
    from typing import TypeAlias

    from orderlint.audit.texts import Lists

    Found: TypeAlias = tuple[list[CellReading], list[int]]
    ReadTexts: TypeAlias = Callable[[str, Lists, Sequence[str]], Found]
    """Reads texts of a path: the different readings, and for each text which of them it has."""

ABSENT = 0
"""The class of a cell in which nothing is written."""


def read_texts(path: str, lists: Lists, texts: Sequence[str]) -> Found:
    """The different readings of `texts`, and for each text which of them it has."""
    numbers: dict[Hashable, int] = {}
    readings: list[CellReading] = []
    found = []
    for text in texts:
        reading = read_cell(path, text)
        number = numbers.setdefault(alike(reading, lists), len(readings))
        if number == len(readings):
            readings.append(reading)
        found.append(number)
    return readings, found


class Room:
    """Room for texts to be remembered, in characters. Of more, what comes again is read again.

    What a text takes besides its characters is counted with them.
    """

    def __init__(self, characters: int) -> None:
        self._left = characters

    def takes(self, texts: Sequence[str]) -> bool:
        """Whether there is room for these texts, which then is taken."""
        wanted = sum(map(len, texts)) + _BESIDES * len(texts)
        if wanted > self._left:
            return False
        self._left -= wanted
        return True


_BESIDES = 200  # about what Python keeps of a text and its place among others


class Classes:
    """The classes of one path. `readings` has a reading of each, by its number."""

    def __init__(self, path: str, lists: Lists, room: Room) -> None:
        self.path, self.lists, self.room = path, lists, room
        self.readings: list[CellReading] = []
        self._numbers: dict[Hashable, int] = {}
        self._of_text: dict[str, int] = {}
        self.add(CellReading(Leaf(path)))

    def add(self, reading: CellReading) -> int:
        """The number of the class of a reading."""
        key = alike(reading, self.lists)
        number = self._numbers.setdefault(key, len(self.readings))
        if number == len(self.readings):
            self.readings.append(reading)
        return number

    def of_texts(self, texts: Sequence[str], read: ReadTexts = read_texts) -> list[int]:
        """The class of each text; `read` reads those that were not met before."""
        kept = self._of_text
        found = [kept.get(text, -1) for text in texts]
        new = [text for text, number in zip(texts, found, strict=True) if number < 0]
        if new:
            readings, chosen = read(self.path, self.lists, new)
            numbers = [self.add(reading) for reading in readings]
            fresh = [numbers[each] for each in chosen]
            if self.room.takes(new):
                kept.update(zip(new, fresh, strict=True))
            left = iter(fresh)
            found = [next(left) if number < 0 else number for number in found]
        return found
