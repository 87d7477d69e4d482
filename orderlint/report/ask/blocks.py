"""Makes blocks of a message under the verdict; a page also has the picture of the order.

Never a word of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report import blocks as b
from orderlint.report.ask import words
from orderlint.report.ask.words import addressed
from orderlint.report.order import blocks as of_order
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.words import digest_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.message import Message


def blocks(message: Message, digest: str = "") -> Iterator[b.Block]:
    """The message; `digest` is the SHA-256 of the order's bytes, if it is to be shown."""
    verified = message.verified
    yield from of_order.running_warning(message.running and message.points)
    yield b.paragraph(addressed(message), "document")
    yield of_order.verdict_block(verified, words.to_call(message))
    diagram = diagram_of(verified.behaviour, verified.order.leaves)
    yield b.WithPicture(
        b.Picture(diagram, "order") if diagram else None, tuple(_parts(message)), is_last=True
    )
    yield of_order.CAUTION_BLOCK
    if digest:
        yield b.paragraph(digest_words(digest), "small")


def _parts(message: Message) -> Iterator[b.Block]:
    """What to say, how to end the call, and what is not in this message."""
    for heading, texts in words.message_parts(message):
        yield b.ReportSection(
            heading, (b.Paragraphs(tuple(texts), hang=3 if len(texts) > 1 else 0),)
        )
    yield b.ReportSection("", (b.paragraph(words.ending(message)),))
    if others := [*words.others(message)]:
        yield b.list_section(words.NOT_HERE, others)
