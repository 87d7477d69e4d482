"""Makes blocks of what a conversion moved, left and refused. Never a word of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.blocks import ReportSection, Rows, list_section, paragraph
from orderlint.report.convert import words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.fhir.conversion import Conversion
    from orderlint.report.blocks import Block


def blocks(made: Conversion) -> Iterator[Block]:
    """Each setting with its element, then what is in none, then why nothing was written."""
    yield paragraph(words.what_became(made), "document")
    if made.moved:
        yield ReportSection(words.MOVED, (Rows(tuple(map(words.moved_words, made.moved))),))
    yield list_section(words.LEFT, map(words.left_words, made.left), without=words.NONE_LEFT)
    if made.refused:
        yield list_section(words.REFUSED, made.refused)
