"""A message as lines to be read aloud.

Joins the parts in order. Never a word of its own beside the four headings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import ask_words as words
from orderlint.report.layout import paragraph, section
from orderlint.report.words import ALREADY_RUNNING, CAUTION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orderlint.ask import Message


def render(message: Message, *, width: int) -> str:
    """The message, ending in a line feed; `width` in columns."""
    parts = [paragraph(f"{message.verified.file}: to the {message.whom}.", width)]
    if message.running and message.points:
        parts.insert(0, paragraph(ALREADY_RUNNING, width))
    if message.points:
        parts += [
            section("Situation", [paragraph(words.situation(message), width, 2)], width),
            *_background(message, width),
            section("Assessment", _lines(words.assessment(message), width), width),
            section("Request", _lines(words.request(message), width), width),
            paragraph(words.CLOSING, width),
        ]
    else:
        parts.append(paragraph(words.NOBODY, width))
    after = [words.left_words(message), *words.elsewhere_words(message)]
    lines = [paragraph(text, width, 2, 2) for text in after if text]
    if lines:
        parts.append(section("Not in this message", lines, width))
    return "\n\n".join([*parts, paragraph(CAUTION, width)]) + "\n"


def _background(message: Message, width: int) -> list[str]:
    said = words.background(message)
    return [section("Background", [paragraph(said, width, 2)], width)] if said else []


def _lines(texts: Sequence[str], width: int) -> list[str]:
    return [paragraph(text, width, 2, 3 if len(texts) > 1 else 0) for text in texts]
