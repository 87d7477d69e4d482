"""Finds notation in a free text that can be misread: what is wrong with it, and where.

Looks at characters and adjoining words. Never what a sentence means.
"""

from __future__ import annotations

import functools
import re
from itertools import islice
from typing import TYPE_CHECKING, NamedTuple

from orderlint.reading.quantity_text import DASHES

if TYPE_CHECKING:
    from collections.abc import Iterator

FILLER = "says nothing"
"""The flag of a text that says nothing."""
_FILLERS = frozenset(
    {
        *("none", "no", "nil", "nothing", "unknown", "not known", "pending", "to follow"),
        *("n/a", "na", "not applicable", "tbd", "tba", "to be determined", "to be decided"),
        *("x", "xx", "xxx", "see above", "see notes", "see chart", "as above", "as usual"),
        *("as needed", "as required", "if needed", "when needed", "prn", "p.r.n", "ad lib"),
        *("nurse discretion", "at nurse discretion", "nobody", "no one", "no-one", "never"),
    }
)

MOST_PER_FLAG = 20
"""Most places reported with one flag in one text; the first ones."""
_LONGEST_MARK = 40
_NEAR = 16  # characters before a place that can hold the word before it


class UnsafeNotation(NamedTuple):
    """A place in a text: one of FLAGS, the offset of its first character, and its length."""

    flag: str
    offset: int
    length: int


class _FlagPattern(NamedTuple):
    """A pattern and the flag of what it, or its first group, finds.

    It is tried only if the text, in lower case, has one of the `hints`, and if `likely` finds
    something in the text: a pattern that soon fails, and finds a part of all that this one finds. A
    match that follows one of the words `never_after` is ignored.
    """

    flag: str
    hints: tuple[str, ...]
    pattern: str
    never_after: frozenset[str] = frozenset()
    likely: str = ""


def is_filler(text: str) -> bool:
    """True if a text has no letter or digit, or is one of the filler words."""
    said = " ".join(text.split()).strip(".!").casefold()
    return said in _FILLERS or not any(map(str.isalnum, said))


def find_unsafe_notation(text: str) -> tuple[UnsafeNotation, ...]:
    """Find all unsafe notation, at most MOST_PER_FLAG places a flag, in text order."""
    by_flag: dict[str, set[tuple[int, int]]] = {}
    for search in _hinted(text.casefold()):
        if not search.likely or re.search(search.likely, text):
            places = islice(_places(search, text), MOST_PER_FLAG)
            by_flag.setdefault(search.flag, set()).update(places)
    if not by_flag:
        return ()
    marks = [
        UnsafeNotation(flag, start, min(end - start, _LONGEST_MARK))
        for flag, places in by_flag.items()
        for start, end in sorted(places)[:MOST_PER_FLAG]
    ]
    return tuple(sorted(marks, key=lambda mark: (mark.offset, mark.flag)))


def _hinted(small: str) -> Iterator[_FlagPattern]:
    """Yield the searches of which a text in lower case has a hint."""
    characters = set(small)
    for single, several, search in _hints():
        if not characters.isdisjoint(single):
            yield search
            continue
        for hint in several:
            if hint in small:
                yield search
                break


@functools.cache
def _hints() -> list[tuple[frozenset[str], tuple[str, ...], _FlagPattern]]:
    """Each search with its hints of one character, and those of several."""
    return [
        (
            frozenset(hint for hint in search.hints if len(hint) == 1),
            tuple(hint for hint in search.hints if len(hint) > 1),
            search,
        )
        for search in _SEARCHES
    ]


def quote_around(text: str, start: int, end: int, around: int) -> str:
    """Quote a part of a text with at most `around` characters on either side, on one line."""
    before, after = text[max(0, start - around) : start], text[end : end + around]
    # Cut back to whole words, unless the one adjoining word is too long.
    if len(before) < start:
        before = "…" + (re.sub(r"^\S*\s+", "", before) or before)
    if len(after) < len(text) - end:
        after = (re.sub(r"\s+\S*$", "", after) or after) + "…"
    return f"“{' '.join(f'{before}{text[start:end]}{after}'.split())}”"


def _places(search: _FlagPattern, text: str) -> Iterator[tuple[int, int]]:
    for found in re.finditer(search.pattern, text):
        span = found.span(found.lastindex or 0)
        if not search.never_after.intersection(_word_before(text, found.start())):
            yield span


def _word_before(text: str, offset: int) -> list[str]:
    """Return the last word before a place, in lower case, if near and in the same sentence.

    Linking words are skipped, as in "pH of" and "MAP target".
    """
    near = text[max(0, offset - _NEAR) : offset].casefold()
    joins = r"(?:\s(?:of|at|is|was|goal|target|between))?"
    return re.findall(rf"([a-z]+){joins}[^a-z.;!?\n]*\Z", near)


# INVARIANT: each pattern is tried at most once for each number, word or sign at which it can begin,
# and what it may repeat cannot be divided in two ways; so the time grows with the text alone.
# Kept as text: most orders have nothing for which they must be compiled.

_DIGITS = tuple("0123456789")
_DASH_HINTS = ("-", *DASHES)
_LEVEL_UNIT = r"(?i:\s?(?:mm\s?Hg|cm\s?H[2₂]?O))"
_LEVEL_WORD = r"(?i:(?<!\w)(?:icp|cpp|pressures?|levels?|limits?|height)\s(?:(?:of|at|to|from)\s)?)"
_BEYOND = r"(?i:(?<!\w)(?:above|below|over|under|than|exceed(?:s|ing)?|least|most)\s)"
# Up to 2,400 a number of four digits may be a time of day or a year.
_ABOVE_A_TIME = r"(?:240[1-9]|24[1-9][0-9]|2[5-9][0-9]{2}|[3-9][0-9]{3}|[1-9][0-9]{4,})(?![\w:/-])"
_COUNTED = (
    r"(?i:[\s-]{0,2}(?:ml|cc|dl|l|lit(?:re|er)s?|millilit(?:re|er)s?|mg|mcg|[uµμ]g|micrograms?"
    r"|milligrams?|g|grams?|kg|(?:international )?units?|i?u|meq|mmol|mosm(?:ol)?|drops?|gtts?"
    r"|minutes|min|(?:(?:red|white) )?(?:blood )?cells)(?![a-z])"
    r"|\s?/\s?(?:mm3|mm³|[uµμ]?l|ml|h|hr|kg|day)(?![a-z]))"
)
# A word after a range tells that it counts hours, millilitres or checks, and not a pressure.
_COUNTS = r"[\s-]?(?!(?i:and|or|then|while|until|unless|if|but|as|with)(?!\w))[A-Za-zµμ%°]"
_PLAIN_NUMBER = r"(?:0|[1-9][0-9]{0,2})(?:\.[0-9]{1,9})?"
_TO = rf"(?:{_LEVEL_UNIT})?\s?[-{DASHES}]\s?-?{_PLAIN_NUMBER}(?![0-9]|[-–/:.,][0-9])"
_DASH_AND_DIGIT = rf"[-{DASHES}]\s?-?[0-9]"  # of every range
_ALONE = r"(?<![\w.,:/+#])(?<![0-9][-–])"  # no part of a date, a time or a telephone
_TELEPHONE = r"(?:[ ().-]{0,2}[0-9]){7,15}(?![0-9])"
_HOURS = (
    r"(?i:(?<!\w)(?:q\s?|(?:every|each|for|next|x)\s)[0-9]{1,3}\s?([°º˚])(?!\s?[cf](?!\w))(?!\w))"
)
_CHARGED_OR_GRADED = (  # Na+, Ca2+, CD4+, 2+
    r"(?<!(?<![\w.,])[0-9])(?<!(?<!\w)[KH])(?<!(?<!\w)(?:Na|Li|Ca|Mg))"
    r"(?<!(?<!\w)(?:Ca2|Mg2))(?<!(?<!\w)CD[0-9])"
)

# Small letters of other alphabets that look like Latin ones, in which a drug's name can hide. Left
# out is Greek that stands in units and names: μ, α, β, γ, δ, ω.
_LOOK_ALIKES = "аеорсхуіѕјһԁкмнтвοντρικυη"
_OTHER_ALPHABET = _LOOK_ALIKES + _LOOK_ALIKES.upper()
_SEARCHES = (
    _FlagPattern(
        "two alphabets",
        tuple(_LOOK_ALIKES),
        rf"(?<!\w)(?:[A-Za-z][\w'’]*[{_OTHER_ALPHABET}]|[{_OTHER_ALPHABET}][\w'’]*[A-Za-z])[\w'’]*",
    ),
    _FlagPattern("naked decimal", (".",), r"(?<![\w.])\.[0-9]+", likely=r"\.[0-9]"),
    _FlagPattern(
        "trailing zero",
        (".",),
        r"(?<![\w.])(?:[0-9]+(?:,[0-9]+)*)?\.[0-9]*0(?![0-9]|\.[0-9])",
        # A laboratory's result may show how exact it is; so may no number of an order.
        frozenset(
            {"version", "edition", "section", "chapter", "table", "figure", "step"}
            | {"ph", "inr", "lactate", "creatinine"}
        ),
        likely=r"\.[0-9]*0",
    ),
    _FlagPattern(
        "number without comma",
        _DIGITS,
        rf"(?<![\w.,:/+#])(?<![A-Za-z]-)([1-9][0-9]{{3,}})(?=(?:\.[0-9]+)?{_COUNTED})",
        likely="[0-9]{4}",
    ),
    _FlagPattern(
        "number without comma", _DIGITS, rf"{_BEYOND}({_ABOVE_A_TIME})", likely="[0-9]{4}"
    ),
    # Below zero: a dash that looks like a minus, and a range in which the dash may be one.
    _FlagPattern("minus sign ambiguous", tuple(DASHES), rf"(?<![\w.)\]])[{DASHES}](?=\.?[0-9])"),
    _FlagPattern(
        "minus sign ambiguous",
        _DASH_HINTS,
        rf"{_ALONE}(?:-?{_PLAIN_NUMBER}{_TO}(?={_LEVEL_UNIT})|-{_PLAIN_NUMBER}{_TO})",
        frozenset({"map", "bp", "sbp", "dbp", "abp"}),  # blood pressures, never below zero
        likely=_DASH_AND_DIGIT,
    ),
    _FlagPattern(
        "minus sign ambiguous",
        _DASH_HINTS,
        rf"{_LEVEL_WORD}({_PLAIN_NUMBER}{_TO})(?!{_COUNTS})",
        likely=_DASH_AND_DIGIT,
    ),
    _FlagPattern(
        "minus sign ambiguous",
        _DASH_HINTS,
        rf"{_ALONE}0{_TO}(?!{_COUNTS})",
        frozenset(
            {"scale", "score", "scores", "pain", "gcs", "rass", "nihss", "mrs", "grade", "nrs"}
            | {"day", "days"}
        ),
        likely=_DASH_AND_DIGIT,
    ),
    # Units, micrograms, millilitres; daily and every other day; drugs; discharge or discontinue.
    _FlagPattern(
        "error-prone abbreviation",
        ("u", "cc"),
        r"(?<![\w.,])\.?[0-9][0-9.,]*[\s-]{0,2}"
        r"([Uu](?!/[Ss])|[Ii][Uu]|[Cc][Cc](?:'?s)?)(?!\w|\.[A-Za-z]|-[A-Za-z])",
        frozenset({"room", "bed", "bay", "ward", "floor"}),
        likely=r"[0-9][.,]*[\s-]{0,2}(?:[Uu]|[Cc][Cc]|[Ii][Uu])",
    ),
    _FlagPattern("error-prone abbreviation", ("iu", "i.u"), r"(?<!\w)(?:IUs?|I\.U)(?!\w)"),
    _FlagPattern(
        "error-prone abbreviation", ("u/",), r"(?<!\w)U(?=/(?:m?[Ll]|kg|hr?|min|day)(?!\w))"
    ),
    _FlagPattern("error-prone abbreviation", ("μ", "ug"), r"(?<![A-Za-z])[uµμ]g(?![A-Za-z])"),
    _FlagPattern(
        "error-prone abbreviation",
        ("cc/", "/cc", " cc"),
        r"(?<!\w)cc(?=/)|(?:(?<=/)|(?<=per )|(?<=in ))cc(?!\w)",
    ),
    _FlagPattern(
        "error-prone abbreviation",
        ("qd", "q.", "q d", "qo", "q o"),
        r"(?<!\w)[Qq]\.?\s?(?:[Oo]\.?\s?)?[Dd](?!\w)",
    ),
    _FlagPattern(
        "error-prone abbreviation",
        ("ms", "so4", "so₄"),
        r"(?<![\w-])(?:MS|[Mm][Gg]?[Ss][Oo][4₄])(?![\w-])",
    ),
    _FlagPattern(
        "error-prone abbreviation", ("d/c",), r"(?<![\w/])[Dd]/[Cc](?:['’]?[Ee]?[Dd])?(?![\w/])"
    ),
    # Signs that are no arrow, address, initials of a chart, charge, grade or telephone.
    _FlagPattern("error-prone symbol", (">",), r"(?<!-)>+"),
    _FlagPattern("error-prone symbol", ("<",), r"<+(?!-+(?![-.0-9]))"),
    _FlagPattern("error-prone symbol", ("@",), r"@(?!(?<=\w@)[\w-]{1,63}\.[A-Za-z])"),
    _FlagPattern("error-prone symbol", ("&",), r"&(?!(?<=(?<!\w)[A-Z]&)[A-Z](?!\w))"),
    _FlagPattern(
        "error-prone symbol",
        ("+",),
        rf"\+(?=[^\W_])(?!{_TELEPHONE})|{_CHARGED_OR_GRADED}\+(?![^\W_])",
    ),
    _FlagPattern("error-prone symbol", tuple("°º˚"), _HOURS),
)
FLAGS = frozenset(search.flag for search in _SEARCHES)
"""Every flag that notation in a free text can have."""
