"""A message as lines to be read aloud.

Joins the parts in order. Never a word of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.ask import words
from orderlint.report.layout import paragraph, section
from orderlint.report.words import ALREADY_RUNNING, CAUTION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orderlint.message import Message


def render(message: Message, *, width: int) -> str:
    """The message, ending in a line feed; `width` in columns."""
    parts = [paragraph(words.addressed(message), width)]
    if message.running and message.points:
        parts.insert(0, paragraph(ALREADY_RUNNING, width))
    parts += [section(name, _lines(texts, width), width) for name, texts in words.parts(message)]
    parts.append(paragraph(words.CLOSING if message.points else words.NOBODY, width))
    lines = [paragraph(text, width, 2, 2) for text in words.others(message)]
    if lines:
        parts.append(section(words.NOT_HERE, lines, width))
    return "\n\n".join([*parts, paragraph(CAUTION, width)]) + "\n"


def _lines(texts: Sequence[str], width: int) -> list[str]:
    return [paragraph(text, width, 2, 3 if len(texts) > 1 else 0) for text in texts]
