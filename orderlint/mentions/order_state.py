"""Finds what a text says of the order as a whole: that it is not to be used, not to irrigate, to
irrigate with water or with nobody watching the pressure, or in which unit all its levels are.

By listed words. Never why, nor for how long; and never the unit of one number.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING

from orderlint.mentions import Mention

if TYPE_CHECKING:
    from collections.abc import Iterator

VOID, MAY_BE_VOID, NOT_TO_RUN = "use it no more", "perhaps use it no more", "not irrigate"
WATER, UNWATCHED = "irrigate with water", "leave the pressure unwatched"

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
_OF_WATER = (
    r"\b(?:irrigat\w+|run|hang|infuse|use|give|switch to|change to)(?: \w+){0,3}"
    r" (?:(?:sterile|distilled|plain|tap) water|water for injections?)\b"
)
_NOT_IN_THE_DRAIN = (
    r"\b(?:not|never|no|don't|avoid|reconstitut\w+|dilut\w+|clean\w*|wash\w*|skin)\b"
)
_OF_WATCHING = (
    r"\b(?:do not|don't|never|stop) (?:monitor|measur|watch|record)\w* "
    r"(?:the )?(?:icp|intracranial pressure)\b"
    r"|\b(?:no|without|stop|discontinue|pause|omit) icp monitoring\b"
    r"|\bicp monitoring (?:is )?(?:off|stopped|discontinued|not (?:needed|required))\b"
)
_OF_ANOTHER = r"\b(?:previous|prior|old|earlier|former|other|existing|preceding|last|all|any)\b"
_LABELS = r"(?:order )?(?:notes?|status|attention|important|warning|nb|pharmacy|nursing)"
_SENTENCES = r"[^.;!?\n]+"
_CLAUSES = r"[^,:()–—]+"
_HINTS = (
    *("void", "cancel", "supersed", "withdraw", "rescind", "revoke", "discontinu", "obsolete"),
    *("valid", "error", "wrong", "hold", "held", "suspend", "disregard", "ignore", "not", "don"),
    *("never", "irrigat", "test", "only", "stop", "water", "monitoring"),
)
"""Parts of which any clause that is looked for has one: few texts have any; to look is quick."""


def states_in(text: str) -> Iterator[Mention]:
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
                start, length = sentence.start() + clause.start() + before, len(clause[0].strip())
                paths = ("therapy",) if name == NOT_TO_RUN else ()
                yield Mention(start, length, sentence.span(), paths, act=name)
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
    if _pattern(_OF_WATER).search(words) and not _pattern(_NOT_IN_THE_DRAIN).search(words):
        return WATER
    return UNWATCHED if _pattern(_OF_WATCHING).search(words) else ""


def _words(clause: str) -> str:
    """The words of a clause in lower case, parted by one blank."""
    return " ".join(re.findall(r"[^\W_]+(?:['’][^\W_]+)*", clause)).casefold().replace("’", "'")


@functools.cache
def _pattern(written: str) -> re.Pattern[str]:
    return re.compile(written)


_UNIT = r"(?:mmHg|cm ?H2O)\b"
_OF_LEVELS = (
    r"\b(?:(?:all|these|the) )?(?:levels|limits|pressures|values|settings|numbers)"
    rf"(?: (?:are|is|all|in|given|written|set|to|be|read)){{1,4}} (?P<unit>{_UNIT})"
)
_OF_SOMETHING_ELSE = r"\b(?:drain|pole|scale|height|blood|arterial|venous|perfusion|map|cpp|cuff)\b"
_OTHER = {"mmhg": "cmH2O", "cmh2o": "mmHg"}


def units_in(text: str) -> Iterator[Mention]:
    """The unit in which a text says that all levels are."""
    folded = text.casefold()
    if "mmhg" not in folded and "h2o" not in folded:  # few texts have either
        return
    said = re.compile(_OF_LEVELS, re.IGNORECASE)
    for sentence in re.finditer(r"[^.;,!?\n]+", text):
        if re.search(_OF_SOMETHING_ELSE, sentence[0], re.IGNORECASE):
            continue
        for found in said.finditer(text, *sentence.span()):
            other = _OTHER[found["unit"].casefold().replace(" ", "")]
            length, paths = len(found[0]), ("display_unit",)
            yield Mention(found.start(), length, sentence.span(), paths, against=(other,))
