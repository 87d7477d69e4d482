"""Cuts a free text into words, numbers with their units, commas and stops.

Exact numbers, and time that grows with the text alone. Never what a word is for.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.mentions.number_words import BELOW_ZERO, COUNTED, LENGTH, MONTHS, MORE_UNITS, NUMBERS
from orderlint.mentions.words import ACTS, LIMITS, OF_THE_NEXT, OTHERS, SUBJECTS
from orderlint.reading.node import new
from orderlint.reading.quantity_text import DASHES, MOST_DIGITS, NumberText
from orderlint.unit_spellings import SPELLINGS
from orderlint.units import TICKS

if TYPE_CHECKING:
    from collections.abc import Container, Iterable


class Token(NamedTuple):
    """A piece of a text: a word or phrase in lower case, a number, a comma or a stop.

    `number` is None for all but a number, and for one that cannot be compared: it is too long, or
    its unit is none of the table. `unit` is the symbol of its unit, and `dimension` what that
    measures; both are empty for a bare number.
    """

    kind: str
    text: str
    start: int
    end: int
    number: NumberText | None = None
    unit: str = ""
    dimension: str = ""


WORD, NUMBER, COMMA, STOP = "word", "number", "comma", "stop"
COUNT = "count"
"""The dimension of a number that counts something or is a time of day."""

# INVARIANT: each alternative begins with another character or is decided by a fixed lookbehind, and
# repeats one class possessively; so the text is read once.
_PIECES = (
    r"(?P<time>(?<![^\W_])\d{1,4}+(?:[:/]\d{1,4}+)+|(?<![^\W_])\d{1,4}+-\d{1,2}+-\d{1,4}+"
    r"|(?<![^\W_])\d{1,2}+\.\d{1,2}+\.\d{2,4}+)"
    r"|(?P<number>(?<![^\W_])(?:\d++(?:,\d{3}(?!\d))*+(?:\.\d++)?|\.\d++))"
    r"|(?P<word>[^\W\d_]++(?:['’][^\W\d_]++)*+)"
    r"|(?P<comma>,)|(?P<stop>[;!?]|\.)|(?P<line>\n\s*+)"
)
_LETTERS = r"[^\W\d_]+"
SIGNS = frozenset("<>≤≥=")
"""Signs that compare: the text of a number after one of them."""


def tokens_of(text: str) -> list[Token]:
    """Cut `text`. Numbers that are a range have one unit, that of the last."""
    return _with_range_units(_join_phrases(_pieces(text)), text)


def _pieces(text: str) -> list[Token]:
    found = []
    for piece in re.finditer(_PIECES, text):
        kind, (start, end) = piece.lastgroup or "", piece.span()
        if kind == "word":
            word = piece[0].casefold()
            number = _number_word(word, text, start, end) if word in NUMBERS else None
            word = word.replace("’", "'")
            found.append(number or new(Token, (WORD, word, start, end, None, "", "")))
        elif kind == "number":
            found.append(_number(text, start, end))
        elif kind == "time":
            found.append(Token(NUMBER, piece[0], start, end, None, "", COUNT))
        elif kind != "line":
            found.append(Token(kind, piece[0], start, end))
        # A line may be broken within a sentence.
        elif not text[end : end + 1].islower() and not text[end : end + 1].isdigit():
            found.append(Token(STOP, "", start, end))
    return found


def has_number_or(words: Container[str], text: str) -> bool:
    """True if `text` has a digit, a number in words or one of `words`, which hold no apostrophe.

    It may be true of others: what follows an apostrophe counts as a word of its own.
    """
    if re.search(r"\d", text):
        return True
    return any(
        word in NUMBERS or word in words for word in map(str.casefold, re.findall(_LETTERS, text))
    )


def _number(text: str, start: int, end: int) -> Token:
    whole, _, decimals = text[start:end].replace(",", "").partition(".")
    digits = whole + decimals
    sign = text[max(0, start - 2) : start]
    negative = sign[-1:] in ("-", *DASHES) and (len(sign) == 1 or sign[0] in " (\n")
    symbol, dimension, stop = _unit_after(text, end)
    negative = negative or _is_below_zero(text, start, stop)
    number = NumberText(negative, digits, len(decimals)) if len(digits) <= MOST_DIGITS else None
    # 0600, 1400, a year, a pager
    is_clock = not dimension and (4 <= len(whole) <= 6 or _is_day(text, start, end))
    if dimension and not symbol:
        number = None
    compares = sign.rstrip()[-1:]
    said = compares if compares in SIGNS else ""
    return Token(NUMBER, said, start, stop, number, symbol, COUNT if is_clock else dimension)


def _is_below_zero(text: str, start: int, end: int) -> bool:
    """True of a number in words below zero: minus 5, or 5 below the landmark."""
    return (
        text[max(0, start - 9) : start].casefold().endswith(("minus ", "negative "))
        or re.compile(BELOW_ZERO, re.IGNORECASE).match(text, end) is not None
    )


def _is_day(text: str, start: int, end: int) -> bool:
    """True of the day of a month: 28 Feb, Feb 28."""
    before = text[max(0, start - 11) : start]
    return (
        re.compile(rf"(?:st|nd|rd|th)? {MONTHS}", re.IGNORECASE).match(text, end) is not None
        or re.search(rf"\b{MONTHS}\.? $", before, re.IGNORECASE) is not None
    )


def _number_word(word: str, text: str, start: int, end: int) -> Token | None:
    """A number in words, if a unit of a setting follows it, or "to" or "at" stands before it."""
    value = NUMBERS[word]
    symbol, dimension, stop = _unit_after(text, end)
    is_level = (
        not dimension
        and value != 1
        and text[max(0, start - 4) : start].casefold() in (" to ", " at ")
    )
    if dimension not in _SETTINGS and not is_level:
        return None
    return Token(NUMBER, "", start, stop, NumberText(False, str(value), 0), symbol, dimension)


def _unit_after(text: str, end: int) -> tuple[str, str, int]:
    """The symbol and dimension of the unit that follows a number, and where it ends."""
    start = end
    while start < end + 2 and (text[start : start + 1].isspace() or text[start : start + 1] == "-"):
        start += 1
    first = text[start : start + 1].casefold()
    met = _units_from(first).match(text, start) if first in _first_letters() else None
    if met is None:
        return "", "", end
    said = met[0].casefold()
    if said not in _units():
        said = re.sub(r"\s*/\s*", "/", " ".join(said.split()))
    # Without regard to case a dotless i is an i to a pattern, and no letter of a unit.
    return (*_units()[said], met.end()) if said in _units() else ("", "", end)


@functools.cache
def _units() -> dict[str, tuple[str, str]]:
    """Each spelling of a unit with its symbol and dimension."""
    dimensions = {symbol: dimension for dimension, units in TICKS.items() for symbol in units}
    units = dict.fromkeys(COUNTED, ("", COUNT))
    units |= {spelling: (symbol, dimensions[symbol]) for spelling, symbol in SPELLINGS.items()}
    return {**units, **MORE_UNITS}


@functools.cache
def _first_letters() -> frozenset[str]:
    return frozenset(unit[0].casefold() for unit in _units())


@functools.cache
def _units_from(first: str) -> re.Pattern[str]:
    """A pattern for the units whose spelling begins with one of `_first_letters`.

    Apart by these, since a pattern of all takes as long to compile as an order to be read.
    """
    spelt = _one_of(unit for unit in _units() if unit[0].casefold() == first)
    return re.compile(rf"{spelt}(?![\w/])", re.IGNORECASE)


def _one_of(spellings: Iterable[str]) -> str:
    """A pattern for any of `spellings`, the longest that stands there.

    What several begin with is tried once: the units are hundreds.
    """
    rests: dict[str, list[str]] = {}
    for spelling in spellings:
        rests.setdefault(spelling[:1], []).append(spelling[1:])
    is_end = rests.pop("", None) is not None
    ways = [_BLANKS.get(first, re.escape(first)) + _one_of(rest) for first, rest in rests.items()]
    if is_end or len(ways) > 1:
        return f"(?:{'|'.join(ways)}){'?' if is_end else ''}" if ways else ""
    return ways[0]


_BLANKS = {"/": r"\s?/\s?", " ": r"\s"}
"""How a slash and a blank of a unit may be written."""


def _with_range_units(found: list[Token], text: str) -> list[Token]:
    """Give the bare number that begins a range the unit of its end, and both the whole place."""
    made = list(found)
    for at in range(len(made) - 2, -1, -1):
        first, end = made[at], at + 1
        if first.kind != NUMBER or first.dimension:
            continue
        joint = made[end].text
        if joint in _JOINTS and end + 1 < len(made):
            end += 1
        last = made[end]
        if last.kind != NUMBER:
            continue
        is_dash = text[first.end : last.start].strip() in ("-", *DASHES)
        if is_dash or last.dimension in _JOINTS.get(joint, ()):
            made[at] = first._replace(end=last.end, unit=last.unit, dimension=last.dimension)
            number = last.number
            if is_dash and number:  # the dash of a range is no minus
                number = number._replace(negative=False)
            made[end] = last._replace(start=first.start, number=number)
    return made


_SETTINGS = ("pressure", "flow", LENGTH)
_JOINTS = {
    **dict.fromkeys(("and", "or"), _SETTINGS),
    **dict.fromkeys(("to", "through"), (*_SETTINGS, "", COUNT, "duration")),
}
"""Words between the numbers of a range, with the dimensions of its end of which it is one."""


def _join_phrases(found: list[Token]) -> list[Token]:
    """Make one token of each listed phrase, the longest first."""
    phrases, made, at = _phrases(), [], 0
    while at < len(found):
        token = found[at]
        length = 1
        for words in phrases.get(token.text, ()):
            if [each.text for each in found[at : at + len(words)]] == words:
                length = len(words)
                token = Token(WORD, " ".join(words), token.start, found[at + length - 1].end)
                break
        made.append(token)
        at += length
    return made


@functools.cache
def _phrases() -> dict[str, list[list[str]]]:
    """By its first word the words of each phrase, the longest first.

    INVARIANT: no token but a word has the text of one.
    """
    listed = [
        *OTHERS,
        *LIMITS,
        *OF_THE_NEXT,
        *(word for subject in SUBJECTS.values() for word in subject.words),
    ]
    listed += [word for act in ACTS.values() for word in (*act.verbs, *act.objects)]
    found: dict[str, list[list[str]]] = {}
    phrases = dict.fromkeys(phrase for phrase in listed if " " in phrase)
    for words in sorted(map(str.split, phrases), key=len, reverse=True):
        found.setdefault(words[0], []).append(words)
    return found
