"""A comparison of settings seen with an order as a page, with the check sheet to keep.

Gathers words and markup for the template. Never a word of its own beside two captions.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from orderlint.report.order import words as order_words
from orderlint.report.order.page import groups, pair_of
from orderlint.report.page import View, page
from orderlint.report.picture.diagram import scene_of
from orderlint.report.readback import sections, words
from orderlint.report.readback.sheet import VOID
from orderlint.report.words import CAUTION

if TYPE_CHECKING:
    from orderlint.readback import ReadBack

ORDERED = "As ordered"
AS_SEEN = "With what was seen in place of what is ordered"


def render(result: ReadBack, digest: str, at: int) -> str:
    """The page. `digest` is that of the order's bytes, `at` the instant of comparing, in
    milliseconds since 1970 UTC."""
    label, _ = words.verdict_words(result)
    ordered, as_set = (
        scene_of(part.behaviour, part.order.leaves) for part in (result.ordered, result.as_set)
    )
    values: dict[str, Any] = {
        "running": sections.running(result),
        "document": order_words.document_words(result.ordered),
        "seen": words.seen_words(result),
        "verdict": result.verdict.value,
        "label": label,
        "notes": sections.notes(result),
        "pictures": pair_of((ORDERED, ordered), (AS_SEEN, as_set), "readback"),
        "findings": list(groups(result.assessment.findings)),
        "before": sections.before(result),
        "suppressed": [
            order_words.suppressed_words(item) for item in sections.every_suppressed(result)
        ],
        "not_asked": order_words.not_asked_words(sections.every_inactive(result)),
        "checked": [sections.checked(result, at)],
        "sheet_heading": sections.SHEET,
        "sheet": sections.sheet(result, digest, at),
        "void": VOID,
        "headings": order_words,
        "caution": CAUTION,
    }
    title = f"{label}: {result.ordered.file}"
    return page(title, [View("readback.html", values)])
