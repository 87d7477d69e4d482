"""A message as a page: what to say, with the picture of the order beside it.

Gathers words and markup for the template. Never a word of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.ask import words
from orderlint.report.order.page import behaviour_values, digest_words, opening_values
from orderlint.report.page import View, page
from orderlint.report.words import ALREADY_RUNNING, CAUTION

if TYPE_CHECKING:
    from orderlint.message import Message


def render(message: Message, digest: str) -> str:
    """The page. `digest` is the SHA-256 of the order's bytes, in hexadecimal."""
    running = message.running and message.points
    values = {
        **opening_values(message.verified),
        **behaviour_values(message.verified, "order"),
        "running": ALREADY_RUNNING if running else "",
        "document": words.addressed(message),
        "parts": list(words.parts(message)),
        "last": words.CLOSING if message.points else words.NOBODY,
        "others": words.others(message),
        "not_here": words.NOT_HERE,
        "digest": digest_words(digest),
        "caution": CAUTION,
    }
    return page(words.addressed(message), [View("ask.html", values)])
