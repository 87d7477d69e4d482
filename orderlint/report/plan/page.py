"""A plan as a page: the verdict, both pictures, then what is due when, volumes and figures.

Gathers words and markup for the template. Never a word of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from orderlint.report.order import words as order_words
from orderlint.report.order.page import (
    behaviour_values,
    closing_values,
    digest_words,
    missing_group,
    opening_values,
)
from orderlint.report.page import View, markup, page
from orderlint.report.picture.timeline import timeline_of
from orderlint.report.picture.timeline_svg import timeline_svg
from orderlint.report.plan import sections

if TYPE_CHECKING:
    from orderlint.shift_plan import Plan


def render(plan: Plan, digest: str, at: int) -> str:
    """The page. `digest` is the SHA-256 of the order's bytes, in hexadecimal digits; `at` is the
    instant of checking in milliseconds since 1970 UTC."""
    verified = plan.verified
    missing = order_words.missing_in(verified.assessment.findings)
    timeline = timeline_of(plan)
    values: dict[str, Any] = {
        **opening_values(verified),
        **behaviour_values(verified, "order"),
        **closing_values(verified, at),
        "checked": [order_words.checked_words(verified, at), digest_words(digest)],
        "found": [text for _, text in sections.found(plan)],
        "missing": [missing_group(missing)] if missing else [],
        "about": list(sections.about(plan)),
        "gaps": sections.gaps(plan),
        "timeline": markup(timeline_svg(timeline, "plan")) if timeline else None,
        "timetable": list(sections.timetable(plan)),
        "volumes": sections.volumes(plan),
        "supplies": sections.supplies(plan),
        "figures": sections.figures(plan),
        "figure_notes": sections.figure_notes(plan),
        "sections": sections,
    }
    label, _ = order_words.verdict_words(verified)
    return page(f"{label}: {verified.file}", [View("plan.html", values)])
