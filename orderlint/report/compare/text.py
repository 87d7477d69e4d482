"""Two orders beside each other as plain text.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.compare import sections, words
from orderlint.report.layout import listed, painted, paragraph
from orderlint.report.order.text import block, suppressed_section
from orderlint.report.words import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.orders import ComparedOrders


def render(found: ComparedOrders, *, color: bool, width: int, at: int) -> str:
    """The whole report, ending in a line feed.

    `width` is in columns; `at` is the instant of checking, in milliseconds since 1970 UTC.
    """
    parts = [
        *_opening(found, color, width),
        *(block(finding, color, width) for finding in found.assessment.findings),
        *(listed(part, width) for part in sections.parts(found)),
        *suppressed_section(found.assessment.suppressed, width),
        *(listed(part, width) for part in sections.not_asked(found)),
        listed(sections.checked(found, at), width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _opening(found: ComparedOrders, color: bool, width: int) -> Iterator[str]:
    if running := sections.running(found):
        yield paragraph(running, width)
    yield "\n".join(paragraph(text, width, 0, 2) for text in sections.documents(found))
    label, _ = words.verdict_words(found)
    notes = (paragraph(text, width, 2) for text in sections.notes(found))
    yield "\n".join([painted(f"Verdict: {label}", label, found.verdict, color), *notes])
