"""Cuts a text into clauses, each with its offsets. Never what a clause means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n|\Z)")
_BULLET = re.compile(r"\s*(?:[-–—*•]|\d{1,2}[.)])[ \t]+")
# INVARIANT: a point or comma within a number has no blank after it, and so cuts nothing.
_SENTENCE_END = re.compile(r";|\.(?=\s|\Z)")
_COMMA = re.compile(r",(?=\s|\Z)")


class Clause(NamedTuple):
    """A piece of a text without blanks at its ends: its words, and their offsets in the text."""

    text: str
    start: int

    @property
    def end(self) -> int:
        """The offset after its last character."""
        return self.start + len(self.text)


class Sentence(NamedTuple):
    """The clauses between two full stops, semicolons or line ends; a comma parts them.

    `paragraph` counts the blank lines before it, and `line` the lines. `is_line` says that nothing
    else stands on its line, `is_item` that a bullet or a number of a list stands before it.
    """

    clauses: tuple[Clause, ...]
    line: int
    paragraph: int
    is_line: bool
    is_item: bool = False


def sentences_of(text: str) -> Iterator[Sentence]:
    """The sentences of a text. Each character is in one clause, or is blank, a bullet, or one of
    `,`, `;` and `.` between two clauses.
    """
    paragraph = 0
    for number, line in enumerate(_LINE.finditer(text)):
        if not line[0].strip():
            paragraph += 1
            continue
        bullet = _BULLET.match(text, line.start(), line.end())
        start = bullet.end() if bullet else line.start()
        found = [
            clauses
            for piece in _split(text, start, line.end(), _SENTENCE_END)
            if (clauses := tuple(_clauses(text, *piece)))
        ]
        for clauses in found:
            yield Sentence(clauses, number, paragraph, len(found) == 1, bullet is not None)


def _clauses(text: str, start: int, end: int) -> Iterator[Clause]:
    for first, after in _split(text, start, end, _COMMA):
        words = text[first:after].strip()
        if words:
            yield Clause(words, first + text[first:after].index(words))


def _split(
    text: str, start: int, end: int, separator: re.Pattern[str]
) -> Iterator[tuple[int, int]]:
    for found in separator.finditer(text, start, end):
        yield start, found.start()
        start = found.end()
    yield start, end
