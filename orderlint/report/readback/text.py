"""A comparison of settings seen with an order as plain text, with the check sheet to keep.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.layout import listed, paragraph, section
from orderlint.report.order.text import block, inactive_lines, suppressed_section
from orderlint.report.order.words import CHECKED, NOT_ASKED, document_words
from orderlint.report.readback import sections, words
from orderlint.report.readback.sheet import VOID
from orderlint.report.words import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.readback import ReadBack


def render(result: ReadBack, digest: str, at: int, *, width: int) -> str:
    """The whole report, ending in a line feed; `width` in columns.

    `digest` is that of the order's bytes, `at` the instant of comparing, in ms since 1970 UTC.
    """
    parts = [
        *_opening(result, width),
        *(block(finding, False, width) for finding in result.assessment.findings),
        *(listed(part, width) for part in sections.before(result)),
        *suppressed_section(sections.every_suppressed(result), width),
        section(NOT_ASKED, inactive_lines(sections.every_inactive(result), width), width),
        section(CHECKED, [paragraph(sections.checked(result, at), width, 2)], width),
        paragraph(sections.SHEET, width),
        *(listed(part, width) for part in sections.sheet(result, digest, at)),
        paragraph(VOID, width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _opening(result: ReadBack, width: int) -> Iterator[str]:
    if running := sections.running(result):
        yield paragraph(running, width)
    yield paragraph(document_words(result.ordered), width)
    yield paragraph(words.seen_words(result), width)
    label, _ = words.verdict_words(result)
    notes = (paragraph(text, width, 2) for text in sections.notes(result))
    yield "\n".join([f"Verdict: {label}", *notes])
