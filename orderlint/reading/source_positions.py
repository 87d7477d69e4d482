"""Finds the place in the file of one character of a value, however the value is written.

Plain, quoted, with escapes, in a block, in YAML or JSON. Never what the character means.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.finding import Place
    from orderlint.reading.node import Scalar

# What a value is written with, in pieces: solid characters that stand for themselves, what stands
# for another character, and white. A piece of more than one character is nowhere divided.
_WHITE = r"\s+"
_DOUBLED = "''"
_ESCAPE = r"\\(?:\r?\n|x.{2}|u[dD][89abAB].{2}\\u.{4}|u.{4}|U.{8}|.)"
_PIECES = {
    "'": rf"(?s:[^\s']+|{_DOUBLED}|{_WHITE}|')",
    '"': rf'(?s:[^\s"\\]+|{_ESCAPE}|{_WHITE}|")',
}
_PLAIN = rf"\S+|{_WHITE}"
_WHITE_ESCAPES = frozenset(
    " \t\r\nntvfrN_LP"
)  # of the escapes that are one letter or a broken line


def places_within(scalar: Scalar, offsets: Iterable[int]) -> Iterator[Place]:
    """Yield the place of the character of `scalar.text` at each offset.

    The offsets are increasing, and none is that of white space: only of non-white characters do the
    file and the value have the same number.
    """
    ahead_of_it = _as_written(scalar)
    if ahead_of_it is not None:
        for offset in offsets:
            yield _place(scalar, ahead_of_it + offset)
        return
    pieces = _solid(scalar.raw)
    start = length = passed = ahead = before = 0
    for offset in offsets:
        ahead += sum(map(len, scalar.text[before:offset].split()))
        before = offset
        while passed + length <= ahead:
            passed += length
            start, length = next(pieces)
        yield _place(scalar, start + ahead - passed)


def _as_written(scalar: Scalar) -> int | None:
    """The characters before a text that is written just as it is, on one line; None for another."""
    text, raw = scalar.text, scalar.raw
    mark = raw[:1]
    if "\n" in raw or mark in (">", "|"):
        return None
    if mark in ("'", '"'):
        return 1 if raw[1:-1] == text and mark not in text and "\\" not in text else None
    return 0 if raw == text else None


def _solid(raw: str) -> Iterator[tuple[int, int]]:
    """Yield offset and number of characters of each piece that is not white space."""
    # Before the text stands a quote, or the whole first line that says how it is folded.
    begins = {"'": 1, '"': 1, ">": raw.find("\n"), "|": raw.find("\n")}.get(raw[:1], 0)
    for piece in re.compile(_PIECES.get(raw[:1], _PLAIN)).finditer(raw, begins):
        if raw[:1] == '"' and piece[0][0] == "\\":
            if not _is_white(piece[0]):
                yield piece.start(), 1
        elif raw[:1] == "'" and piece[0] == _DOUBLED:
            yield piece.start(), 1
        elif not piece[0].isspace():
            yield piece.start(), len(piece[0])


def _is_white(escape: str) -> bool:
    if len(escape) > 3 and escape[1] in "xuU":
        return len(escape) <= 10 and chr(int(escape[2:], 16)).isspace()
    return escape[1] in _WHITE_ESCAPES


def _place(scalar: Scalar, offset: int) -> Place:
    before = scalar.raw[:offset]
    if "\n" not in before:
        return scalar.place._replace(column=scalar.place.column + offset)
    line = scalar.place.line + before.count("\n")
    return scalar.place._replace(line=line, column=offset - before.rfind("\n"))
