"""Parses conditions and figures in a file; finds the line and column of a mistake in one."""

from __future__ import annotations

import re
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Place, Refused
from orderlint.language.figures import FUNCTIONS
from orderlint.language.surface import LanguageError, Surface
from orderlint.language.syntax import parse

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.reading.node import Scalar

_IT = "{it}"
# How one character of the text may stand in the file, by the quote before the text. A line break
# and the spaces around it stand for one space or none. Compiled only where a mistake is found.
_BREAK = r"[ \t]*\r?\n[ \t\r\n]*"
_ESCAPE = r"\\(?:\r?\n[ \t]*|x.{2}|u[dD][89abAB].{2}\\u.{4}|u.{4}|U.{8}|.)"
_PLAIN = f"(?s:{_BREAK}|.)"
_WRITTEN = {
    "'": f"(?s:{_BREAK}|''|.)",
    '"': f"(?s:{_BREAK}|{_ESCAPE}|.)",
    ">": r"(?s:\r?\n *|.)",
    "|": r"(?s:\r?\n *|.)",
}
_BLANKS = frozenset({" ", r"\ ", r"\n", r"\x20", r"\u0020"})


class ParsedText(NamedTuple):
    """A condition, its text in the file, and the path that was filled in for each `{it}` in it."""

    surface: Surface
    text: Scalar
    it: str | None = None


def parse_condition(text: Scalar, it: str | None = None) -> ParsedText:
    """Parse a condition. Raises Refused at the character that is not in the language."""
    with pinpointing(text, it):
        return ParsedText(parse(text.text.replace(_IT, it) if it else text.text), text, it)


def parse_figure(text: Scalar) -> Surface:
    """Parse a figure. Raises Refused at the character that is not in the language."""
    with pinpointing(text):
        return parse(text.text, FUNCTIONS, division=True)


@contextmanager
def pinpointing(text: Scalar, it: str | None = None) -> Iterator[None]:
    """Raise a LanguageError in a text as Refused, at the line and column of the mistake.

    `it` is what was filled in for each `{it}`.
    """
    try:
        yield
    except LanguageError as error:
        raise pinpoint(text, error, it) from None


def pinpoint(text: Scalar, error: LanguageError, it: str | None = None) -> Refused:
    """A mistake in a text as Refused, at its line and column in the file."""
    at = _unfilled(error.at, text.text, it) if it else error.at
    # YAML changes only blanks and line breaks of a text, so all other characters are counted.
    ahead = sum(character not in " \n" for character in text.text[:at])
    before = text.raw[: _offset(text.raw, ahead)]
    if "\n" not in before:
        return Refused(error.message, text.place._replace(column=text.place.column + len(before)))
    line = text.place.line + before.count("\n")
    return Refused(error.message, Place(text.place.file, line, len(before) - before.rfind("\n")))


def _offset(raw: str, ahead: int) -> int:
    """The offset in the file's text of the character after `ahead` others that are not blank."""
    # A quote precedes the text, or a first line that says how the text is folded.
    start = {"'": 1, '"': 1, ">": raw.find("\n"), "|": raw.find("\n")}.get(raw[:1], 0)
    pieces = re.compile(_WRITTEN.get(raw[:1], _PLAIN)).finditer(raw, start)
    solid = (piece for piece in pieces if piece[0] not in _BLANKS and "\n" not in piece[0])
    for index, piece in enumerate(solid):
        if index == ahead:
            return piece.start()
    return len(raw)


def _unfilled(at: int, text: str, it: str) -> int:
    """The offset before each `{it}` was filled; within a filled path, that of its brace."""
    for found in re.finditer(r"\{it\}", text):
        beyond = at - found.start() - len(it)
        if at >= found.start():
            at = found.end() + beyond if beyond >= 0 else found.start()
    return at
