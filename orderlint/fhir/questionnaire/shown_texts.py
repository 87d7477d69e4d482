"""Finds, in the texts that a form shows beside its answers, what may be said of a setting.

Words and numbers that can be pointed at. Never what a text means.
"""

from __future__ import annotations

import functools
import re

from orderlint.fields import field_table
from orderlint.mentions.acts import first_words
from orderlint.mentions.tokens import has_number_or
from orderlint.mentions.words import SUBJECTS
from orderlint.order_set.free_texts import wrong_words
from orderlint.sentences.text_reading import holds_setting, read_text

_PART = r"(?:[a-fq]?[1-9]\d?[a-f]?|[a-z]|[ivx]{1,5})"
_NUMBERING = (
    r"(?:(?:part|section|step|question|item|no\.|§) ?)?"
    rf"[(\[]?{_PART}(?:\.{_PART})*+[.):\]]*+|[•*–-]|"
)
"""What stands before an item to number it: 1. or a), or the mark of a list."""


def is_numbering(prefix: str) -> bool:
    """Whether what stands before the text of an item numbers it, and says no more."""
    return re.fullmatch(_NUMBERING, prefix.strip(), re.IGNORECASE | re.ASCII) is not None


def may_say_of_settings(text: str) -> bool:
    """Whether a text has a number, names a setting or something that is done, or orders what
    stands elsewhere.

    Not a heading alone, which says nothing of what is under it.
    """
    heading = read_text(text)
    if not (heading.not_understood or heading.values):
        return False
    return (
        holds_setting(text)
        or has_number_or(_words(), text)
        or any(choice in text.casefold() for choice in _phrases())
        or any(wrong_words(text))
    )


@functools.cache
def _words() -> frozenset[str]:
    """The words for settings and for what is done, each by itself."""
    return first_words() | {word for subject in SUBJECTS.values() for word in subject.words}


@functools.cache
def _phrases() -> tuple[str, ...]:
    """The choices of settings that no other text has by chance: those of several words."""
    choices = (choice for field in field_table().fields.values() for choice in field.choices)
    return tuple({choice.casefold() for choice in choices if " " in choice})
