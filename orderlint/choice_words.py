"""Reads a choice from the words of a text, whatever their order: `EVD, R frontal` is a ventricle.

Whole words from a list. A text with any other word, such as one that denies, is not read.
"""

from __future__ import annotations

import functools
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
    known, by_words = _listed(tuple(meanings.items()), tuple(spellings.items()))
    words = _words_of(text)
    return by_words.get(_meant(words, known)) if words <= known.keys() else None


@functools.lru_cache(maxsize=8)  # few fields have meanings
def _listed(
    meanings: tuple[tuple[str, str], ...], spellings: tuple[tuple[str, str], ...]
) -> tuple[dict[str, str], dict[frozenset[str], str]]:
    """What each word means, and the choice by the words that its spelling means."""
    known = {word: word for spelling, _ in spellings for word in _words_of(spelling)}
    known |= dict(meanings)
    return known, {_meant(_words_of(spelling), known): choice for spelling, choice in spellings}


def _meant(words: frozenset[str], known: Mapping[str, str]) -> frozenset[str]:
    return frozenset(known.get(word, word) for word in words) - {""}


def _words_of(text: str) -> frozenset[str]:
    words = (word.replace("’", "'") for word in _WORD.findall(text.casefold()))
    return frozenset(words) - _BETWEEN
