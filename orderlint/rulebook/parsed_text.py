"""One text in the rule language, parsed, so that a mistake in it points at its line and column.

Only where a character stands in the file. Never what a condition means.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Place, Refused
from orderlint.language.figures import FUNCTIONS
from orderlint.language.surface import LanguageError
from orderlint.language.syntax import parse

if TYPE_CHECKING:
    from orderlint.language.surface import Surface
    from orderlint.reading.node import Scalar

_IT = "{it}"
# What a character of the text may be written as. A break between lines, with the white beside it,
# is one blank of the text or none. Compiled only where a mistake is found.
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
    """A condition or figure, its text in the file, and the path each `{it}` in it stands for."""

    surface: Surface
    text: Scalar
    it: str | None = None


def parse_condition(text: Scalar, it: str | None = None) -> ParsedText:
    """The condition in a text. Refused at the character that is not in the language."""
    filled = text.text.replace(_IT, it) if it else text.text
    try:
        return ParsedText(parse(filled), text, it)
    except LanguageError as error:
        raise pinpoint(text, error, it) from None


def parse_figure(text: Scalar) -> ParsedText:
    """The figure in a text. Refused as a condition is."""
    try:
        return ParsedText(parse(text.text, FUNCTIONS, division=True), text)
    except LanguageError as error:
        raise pinpoint(text, error) from None


def pinpoint(text: Scalar, error: LanguageError, it: str | None = None) -> Refused:
    """The mistake at its own line and column; `it` is what was filled in for each `{it}`."""
    at = _unfilled(error.at, text.text, it) if it else error.at
    # A quoted or folded text loses line breaks and indentation; what is not blank both share.
    ahead = sum(character not in " \n" for character in text.text[:at])
    before = text.raw[: _offset(text.raw, ahead)]
    if "\n" not in before:
        return Refused(error.message, text.place._replace(column=text.place.column + len(before)))
    line = text.place.line + before.count("\n")
    return Refused(error.message, Place(text.place.file, line, len(before) - before.rfind("\n")))


def _offset(raw: str, ahead: int) -> int:
    """The offset in a text as written of what comes after `ahead` characters that are not blank."""
    # Before the text stands a quote, or the whole first line that says how it is folded.
    start = {"'": 1, '"': 1, ">": raw.find("\n"), "|": raw.find("\n")}.get(raw[:1], 0)
    pieces = re.compile(_WRITTEN.get(raw[:1], _PLAIN)).finditer(raw, start)
    solid = (piece for piece in pieces if piece[0] not in _BLANKS and "\n" not in piece[0])
    for index, piece in enumerate(solid):
        if index == ahead:
            return piece.start()
    return len(raw)


def _unfilled(at: int, text: str, it: str) -> int:
    """Where the character stands before each `{it}` is filled; one of the filled, at its brace."""
    for found in re.finditer(r"\{it\}", text):
        beyond = at - found.start() - len(it)
        if at >= found.start():
            at = found.end() + beyond if beyond >= 0 else found.start()
    return at
