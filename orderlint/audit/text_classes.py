"""Equivalence classes of the texts of one path: each distinct text is read once.

Two texts are of one class if no condition and no check can tell their readings apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from orderlint.audit.texts import CellReading, Lists, TextMentions, read_cell, reading_key
from orderlint.order import Leaf

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Sequence

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
        number = numbers.setdefault(reading_key(reading, lists), len(readings))
        if number == len(readings):
            readings.append(reading)
        found.append(number)
    return readings, found


class MemoryBudget:
    """Bytes left for what is remembered of texts. Who finds it spent begins anew."""

    def __init__(self, size: int) -> None:
        self._left = size

    def take(self, texts: Sequence[str], classes: int, said: int) -> None:
        """Take what these texts need, for so many classes, and for so much that they say."""
        self._left -= sum(map(len, texts)) + OF_A_TEXT * len(texts)
        self._left -= _OF_A_CLASS * classes + _OF_WHAT_IS_SAID * said

    @property
    def is_spent(self) -> bool:
        """Whether nothing is left."""
        return self._left <= 0


OF_A_TEXT = 200  # about what Python keeps of a text and its place among others
_OF_A_CLASS = 500  # and of a class: its key, and what becomes of it under two policies
_OF_WHAT_IS_SAID = 1_000


class TextClasses:
    """The classes of one path. `readings` has a reading of each, by its number, and `says` the
    numbers of what it says in `said`. Classes that differ in what they say alone share a reading.
    """

    def __init__(self, path: str, lists: Lists, budget: MemoryBudget) -> None:
        self.path, self.lists, self.budget = path, lists, budget
        self.readings: list[CellReading] = []
        self.says: list[tuple[int, ...]] = []
        self.said: list[TextMentions] = []
        self._kinds: dict[Hashable, tuple[int, CellReading]] = {}
        self._numbers: dict[tuple[int, ...], int] = {}
        self._of_said: dict[TextMentions, int] = {}
        self._of_text: dict[str, int] = {}
        self.add(CellReading(Leaf(path)))

    def add(self, reading: CellReading) -> int:
        """The number of the class of a reading."""
        says = self.numbers_of(reading.says)
        reading = reading._replace(says=frozenset())
        new = len(self._kinds), reading
        kind, reading = self._kinds.setdefault(reading_key(reading, self.lists), new)
        number = self._numbers.setdefault((kind, *says), len(self.readings))
        if number == len(self.readings):
            self.readings.append(reading)
            self.says.append(says)
        return number

    def numbers_of(self, says: Iterable[TextMentions]) -> tuple[int, ...]:
        """The numbers in `said` of what a text says, in order; it is added where it is new."""
        numbers = []
        for each in says:
            number = self._of_said.setdefault(each, len(self.said))
            if number == len(self.said):
                self.said.append(each)
            numbers.append(number)
        return tuple(sorted(numbers))

    def of_texts(self, texts: Sequence[str], read: ReadTexts = read_texts) -> list[int]:
        """The class of each text; `read` reads those that were not met before."""
        kept = self._of_text
        new = [text for text in texts if text not in kept]
        if new:
            classes, said = len(self.readings), len(self.said)
            readings, chosen = read(self.path, self.lists, new)
            numbers = [self.add(reading) for reading in readings]
            kept.update(zip(new, map(numbers.__getitem__, chosen), strict=True))
            self.budget.take(new, len(self.readings) - classes, len(self.said) - said)
        return [kept[text] for text in texts]
