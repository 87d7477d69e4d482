"""Finds the texts of which each word is listed, and that so can say nothing but what is known.

What is in no list is not understood: never the other way round.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING

from orderlint.mentions.words import ACTS, BEFORE, CALLING, CONTEXTS, OF_DRAIN, STAFF, TRANSPORT

if TYPE_CHECKING:
    from collections.abc import Iterator


def _set(listed: str) -> frozenset[str]:
    return frozenset(listed.split())


_OBSERVED = _set(
    "a an and any around at from in is of on or the to becomes neurological neuro new change "
    "changes changed worse worsening decline deterioration drowsy drowsiness headache vomiting "
    "nausea fever febrile seizure seizures confusion agitation weakness pupil pupils unequal "
    "dilated bleeding bleed rebleeding haemorrhage hemorrhage blood bloody red clear clears "
    "cleared clearing cloudy turbid colour color fluid drained leak leaks leakage leaking lost "
    "loss absent flat dampened waveform trace site wound dressing wet disconnected disconnection "
    "dislodged dislodgement blocked blockage sign signs infection sample samples check checks "
    "scan ct two three consecutive output outputs fresh drowsier sterile culture cultures day "
    "apart row pale paler pink enough read print through sudden hearing cloudier slow pulse apnoea "
    "apnea full fontanelle ultrasound shows tomorrow third fourth ventricle ventricles bags"
)
"""What is seen of a patient or a drain, for which somebody is called or irrigation ends."""
_CALLED = STAFF | _set("please always the a on call team duty charge nurse icu neurocritical care")
_CHANGED = _set(
    "a an any all every each the or and of in to this its change changes changing adjusting "
    "adjustment adjustments moving clamping flushing opening closing raising lowering drain evd "
    "height drain level levels rate irrigation setting settings limit limits pause treat above "
    "line tubing chamber catheter"
)
"""What somebody is called before."""
_TIMES = _set("minutes minute min mins h hour hours")
_NOTHING = _set("none nil")
_VALVE_VERBS = ("clamp", "unclamp", "open", "clos", "shut")
_OF_VALVE = frozenset(
    {
        *(word for act in ("clamp", "unclamp", "open the drain") for word in ACTS[act].verbs),
        *("close", "closed", "closing", "shut", *OF_DRAIN),
        *CONTEXTS[TRANSPORT],
        *_set("the a for during in and or then when while at most keep is to be must stay stays"),
        *_set("remain remains"),
        *_TIMES,
    }
)
"""Words of a clause by which the drain is clamped or opened: when, and how long at most."""


KEPT = 128
"""The texts of which it is kept what they say: those of an order set stand in many orders."""


@functools.lru_cache(KEPT)
def says_what_is_seen(text: str) -> bool:
    """True of a text that only lists what may be seen of a patient or a drain."""
    plain = re.sub(r"\b(?:in|from|around) the drain\b|\bventricles? open\b", "", text.casefold())
    return all(word in _OBSERVED for words in _sentences(plain) for word in words)


@functools.lru_cache(KEPT)
def says_known_acts(text: str) -> bool:
    """True if all that a text says is to call somebody before a change, and to clamp or to open the
    drain at a time; whether the settings say the same is not looked at. True of `none` too.
    """
    if text.strip(" .").casefold() in _NOTHING:
        return True
    return all(_is_call(words) or _is_of_valve(words) for words in _sentences(text))


def _is_call(words: list[str]) -> bool:
    """As in: call neurosurgery before any change of the drain height."""
    at = next((n for n, word in enumerate(words) if word in BEFORE), 0)
    whom, what = [word for word in words[:at] if word not in CALLING], words[at + 1 :]
    return (
        0 < len(whom) + 1 <= at
        and {*whom} <= _CALLED
        and bool(what)
        and all(word in _CHANGED for word in what)
    )


def _is_of_valve(words: list[str]) -> bool:
    beside = zip(words, [*words[1:], ""], strict=True)
    return any(word.startswith(_VALVE_VERBS) for word in words) and all(
        word in _OF_VALVE or (word.isdecimal() and after in _TIMES) for word, after in beside
    )


def _sentences(text: str) -> Iterator[list[str]]:
    """The words of each sentence in lower case; all that stands in it but blanks and commas."""
    for sentence in re.split(r"[.;!?\n](?:\s|$)|\n|;", text):
        words = re.findall(r"[^\s,]+", sentence.casefold())
        if words:
            yield words
