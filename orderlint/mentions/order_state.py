"""Finds where a text says of the order itself that it is not to be used, or is not to irrigate.

By listed words of a clause that stands by itself. Never why, nor for how long.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

VOID, MAY_BE_VOID, NOT_TO_RUN = "use it no more", "perhaps use it no more", "not irrigate"

_ENDED = (
    r"(?:void(?:ed)?|cancell?ed|superseded|withdrawn|rescinded|revoked|discontinued|obsolete"
    r"|invalid|not valid|no longer valid|suspended|on hold|(?:entered|written) in error"
    r"|for (?:the )?wrong patient|not to be used|not for (?:clinical |patient )?use)"
)
_TO_END = r"(?:cancel|void|withdraw|rescind|revoke|discontinue|disregard|ignore|hold|suspend|stop)"
_TO_USE = (
    r"(?:use|start|begin|give|run|carry out|follow|implement|act on|administer|transcribe|activate)"
)
_ORDER = (
    r"(?:(?:(?:this|the|above|whole|entire) ){0,2}(?:order|prescription|order sheet)"
    r"|(?:these|the above) orders)"
)
_IS = r"(?:(?:is|are|was|has been|have been|now) ){0,2}"
_BY = r"(?: (?:by|per|see) .*)?"
_NOT = r"(?:do not|don't|must not|never)"

_OF_THE_TEXT = rf"{_IS}{_ENDED}{_BY}|void|hold|wrong patient|{_NOT} {_TO_USE}(?: this| it)?"
"""Clauses that speak of the order where a text begins with them, though they do not name it."""
_OF_THE_ORDER = (
    rf"{_ORDER} {_IS}{_ENDED}{_BY}|(?:please )?{_TO_END} {_ORDER}(?: now)?"
    rf"|(?:please )?{_NOT} {_TO_USE} {_ORDER}|test order"
    r"|(?:for )?(?:test|training|example|sample) only"
)
_OF_IRRIGATION = (
    rf"{_NOT} (?:irrigate|(?:start|begin|run|give) (?:the )?irrigation)"
    r"(?: (?:this patient|him|her))?|no irrigation"
    r"|(?:stop|hold|suspend|discontinue|cancel) (?:the |all )?irrigation(?: now)?"
    r"|irrigation (?:is )?(?:off|on hold|held|stopped|discontinued|cancell?ed|contraindicated)"
)
_UNDER_A_CONDITION = (
    rf"^(?:please )?{_TO_END} {_ORDER}\b|\bhold (?:this |the )?orders?\b"
    r"|^(?:on )?hold (?:until|till|pending)\b|^on hold\b"
    rf"|\b(?:this|above) (?:order|prescription) (?:\w+ ){{0,3}}?{_ENDED}\b"
    rf"|^{_ORDER} {_IS}{_ENDED}\b"
    rf"|\b{_TO_END}(?:l?ed)? (?:this|the above) (?:order|prescription)\b"
)
_OF_ANOTHER = r"\b(?:previous|prior|old|earlier|former|other|existing|preceding|last|all|any)\b"
_LABELS = r"(?:order )?(?:notes?|status|attention|important|warning|nb|pharmacy|nursing)"
_SENTENCES = r"[^.;!?\n]+"
_CLAUSES = r"[^,:()–—]+"
_HINTS = (
    *("void", "cancel", "supersed", "withdraw", "rescind", "revoke", "discontinu", "obsolete"),
    *("valid", "error", "wrong", "hold", "held", "suspend", "disregard", "ignore", "not", "don"),
    *("never", "irrigat", "test", "only", "stop"),
)
"""Parts of which any clause that is looked for has one: few texts have any; to look is quick."""


class FoundState(NamedTuple):
    """What a clause says, its offsets, and those of its sentence."""

    name: str
    start: int
    end: int
    sentence: tuple[int, int]


def states_in(text: str) -> Iterator[FoundState]:
    """What the clauses of a text say of the order itself, first to last."""
    folded = text.casefold()
    if not any(hint in folded for hint in _HINTS):
        return
    begins_text = True
    for sentence in re.finditer(_SENTENCES, text):
        begins_sentence = True
        for clause in re.finditer(_CLAUSES, sentence[0]):
            words = _words(clause[0])
            if not words:
                continue
            name = _said(words, begins_text=begins_text, begins_sentence=begins_sentence)
            if name:
                before = len(clause[0]) - len(clause[0].lstrip())
                start = sentence.start() + clause.start() + before
                end = start + len(clause[0].strip())
                yield FoundState(name, start, end, sentence.span())
            goes_on = bool(name) or _pattern(_LABELS).fullmatch(words) is not None
            begins_sentence &= goes_on
            begins_text &= goes_on


def _said(words: str, *, begins_text: bool, begins_sentence: bool) -> str:
    if begins_sentence and _pattern(_OF_THE_ORDER).fullmatch(words):
        return VOID
    if begins_text and _pattern(_OF_THE_TEXT).fullmatch(words):
        return VOID
    if begins_sentence and _pattern(_OF_IRRIGATION).fullmatch(words):
        return NOT_TO_RUN
    may_be = _pattern(_UNDER_A_CONDITION).search(words)
    if may_be and not _pattern(_OF_ANOTHER).search(words):
        return MAY_BE_VOID
    return ""


def _words(clause: str) -> str:
    """The words of a clause in lower case, parted by one blank."""
    return " ".join(re.findall(r"[^\W_]+(?:['’][^\W_]+)*", clause)).casefold().replace("’", "'")


@functools.cache
def _pattern(written: str) -> re.Pattern[str]:
    return re.compile(written)
