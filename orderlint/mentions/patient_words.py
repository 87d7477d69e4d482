"""Finds what an indication says of the patient or the bag that has a setting of its own.

By listed words. Never a diagnosis, and never what a sentence means.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.mentions import Mention
from orderlint.mentions.order_state import states_in
from orderlint.mentions.plain_texts import KEPT
from orderlint.mentions.reader import mentions_in
from orderlint.mentions.words import CLAMP, CLOSE

if TYPE_CHECKING:
    from collections.abc import Iterator


class PatientContradiction(NamedTuple):
    """Words, and the choices of a setting beside which they cannot stand."""

    words: str
    path: str
    against: tuple[str, ...]


CONTRADICTIONS = (
    PatientContradiction(
        r"unsecured|not (?:yet )?(?:secured|coiled|clipped)|uncoiled|unclipped",
        "patient.vascular_lesion",
        ("none", "secured"),
    ),
    PatientContradiction(
        r"aneurysm(?:s|al)?|avms?|arteriovenous malformation|dural fistula",
        "patient.vascular_lesion",
        ("none",),
    ),
    PatientContradiction(
        r"on (?:warfarin|apixaban|rivaroxaban|dabigatran|edoxaban)|anticoagulated",
        "patient.anticoagulation",
        ("none", "prophylactic"),
    ),
    PatientContradiction(
        r"neonate|newborn|preterm (?:infant|baby)|premature (?:infant|baby)",
        "patient.group",
        ("adult",),
    ),
)
_DENIED = (
    r"\b(?:no|not an?|never|without|exclude[sd]?|negative|ruled out|rule out|previous(?:ly)?"
    r"|history|former|born)\b|\?"
)
"""Words of a clause that says the opposite, or what was once so."""
_OVER = r"\b(?:reversed|stopped|held|ceased|until|before)\b"
"""Words of a sentence that says what is no longer so."""
_OF_SETTINGS = (
    r"\b(?:warfarin|\w+xaban|dabigatran|heparin|enoxaparin|inr|anticoagula\w+|\w+plase|tpa"
    r"|\w+m[iy]cin\w*|colistin|potassium|kcl|mmhg|cmh2o|bags?|litres?|liters?|alarms?|irrigate"
    r"|hold|void|cancel\w*|supersed\w*|on hold|neonat\w*|newborn|preterm)\b"
    r"|\d\s*(?:(?:mg|mcg|g|meq|mmol|ml|l|cm)\b|%)"
)
"""What a setting holds as well, or what is no reason to irrigate."""
_HINTS = (
    *("secured", "coiled", "clipped", "aneurysm", "avm", "arteriovenous", "fistula", "preterm"),
    *("warfarin", "xaban", "dabigatran", "anticoagula", "neonat", "newborn", "premature"),
    *("heparin", "enoxaparin", "inr", "plase", "tpa", "micin", "mycin", "colistin", "potassium"),
    *("kcl", "mmhg", "cmh2o", "bag", "litre", "liter", "alarm", "irrigate", "hold", "void"),
    *("cancel", "supersed"),
)
"""Parts of which any of the words above has one: few texts have any, and to look is quick."""


def patient_mentions(text: str) -> tuple[Mention, ...]:
    """What an indication says of the order, or of the patient that has a setting of its own."""
    found = [*states_in(text)]
    if not _is_hinted(text):
        return tuple(found)
    for sentence in re.finditer(r"[^.;!\n]+", text):
        if not re.search(_OVER, sentence[0], re.IGNORECASE):
            found += _contradictions(text, sentence.span())
    return tuple(sorted(found, key=lambda item: item.offset))


def _contradictions(text: str, sentence: tuple[int, int]) -> Iterator[Mention]:
    for clause in re.compile(r"[^,]+").finditer(text, *sentence):
        if re.search(_DENIED, clause[0], re.IGNORECASE):
            continue
        for item in CONTRADICTIONS:
            if met := re.search(rf"\b(?:{item.words})\b", clause[0], re.IGNORECASE):
                start, paths = clause.start() + met.start(), (item.path,)
                yield Mention(start, len(met[0]), sentence, paths, against=item.against)


@functools.lru_cache(KEPT)
def names_settings(text: str) -> bool:
    """True if an indication holds what belongs in a setting, or what may void an order."""
    if any(item.act not in (CLAMP, CLOSE) for item in mentions_in(text)):
        return True
    if not _is_hinted(text) and not any(map(str.isdigit, text)):
        return False
    words = "|".join([_OF_SETTINGS, *(rf"\b(?:{item.words})\b" for item in CONTRADICTIONS)])
    said = {item.offset for item in patient_mentions(text) if item.against}
    return any(found.start() not in said for found in re.finditer(words, text, re.IGNORECASE))


def _is_hinted(text: str) -> bool:
    folded = text.casefold()
    return any(hint in folded for hint in _HINTS)
