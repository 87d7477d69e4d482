"""Reads a choice from the words of a text, whatever their order: `EVD, R frontal` is a ventricle.

Whole words from a list. A text with any other word, such as one that denies, is not read.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*|[^\w\s]|_")
_BETWEEN = frozenset(",;.&+/-()")
"""Marks that part words and say nothing of a choice."""


def read_words(text: str, meanings: Mapping[str, str], spellings: Mapping[str, str]) -> str | None:
    """Return the choice whose spelling has the words that `text` means, or None.

    `meanings` is word in lower case → word of a spelling, empty for one that says nothing of the
    choice. A word of a spelling means itself. Each counts once.
    """
    known = {word: word for spelling in spellings for word in _words_of(spelling)} | {**meanings}
    by_words = {_meant(spelling, known): choice for spelling, choice in spellings.items()}
    return by_words.get(_meant(text, known)) if _words_of(text) <= known.keys() else None


def _meant(text: str, known: Mapping[str, str]) -> frozenset[str]:
    return frozenset(known.get(word, word) for word in _words_of(text)) - {""}


def _words_of(text: str) -> frozenset[str]:
    words = (word.replace("’", "'") for word in _WORD.findall(text.casefold()))
    return frozenset(words) - _BETWEEN
