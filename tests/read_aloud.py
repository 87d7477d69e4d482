"""How long a message is that is read aloud, and how long it may be."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.message import count_words
from orderlint.report import ask as ask_words

if TYPE_CHECKING:
    from orderlint.message import Message

LONGEST = 90  # words; common practice, no published source: three words a second, thirty seconds


def spoken(message: Message) -> int:
    """The words of a message as it is read aloud, without its blanks."""
    return count_words(
        "Situation Background Assessment Request",
        ask_words.situation(message),
        ask_words.background(message),
        *ask_words.assessment(message),
        *ask_words.request(message),
        ask_words.CLOSING,
    )
