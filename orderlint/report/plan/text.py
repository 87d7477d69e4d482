"""A plan as plain text: the verdict first, then what is due when, volumes and figures.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order.table import behaviour_lines
from orderlint.report.order.text import closing, missing_section, opening
from orderlint.report.order.words import BEHAVIOUR, missing_in
from orderlint.report.plan import sections
from orderlint.report.words import LEVELS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.shift_plan import Plan


def render(plan: Plan, *, color: bool, width: int, at: int | None = None) -> str:
    """The whole plan, ending in a line feed. `width` is in columns.

    `at` is the instant of checking in milliseconds since 1970 UTC, named where it is given.
    """
    verified = plan.verified
    about = [paragraph(text, width, 2) for text in sections.about(plan)]
    notes = [paragraph(text, width, 2) for text in sections.figure_notes(plan)]
    parts = [
        *opening(verified, color, width),
        *_findings(plan, color, width),
        section(sections.ABOUT, about, width),
        section(sections.GAPS, _lines(sections.gaps(plan), width), width),
        section(sections.TIMETABLE, _timetable(plan, width), width),
        section(sections.VOLUMES, _lines(sections.volumes(plan), width), width),
        section(sections.SUPPLIES, _lines(sections.supplies(plan), width), width),
        section(
            BEHAVIOUR,
            behaviour_lines(verified.behaviour, verified.order.leaves, width),
            width,
        ),
        section(sections.FIGURES, [*_lines(sections.figures(plan), width), *notes], width),
        *closing(verified, width, at),
    ]
    return "\n\n".join(parts) + "\n"


def _lines(texts: Iterable[str], width: int) -> list[str]:
    return [paragraph(text, width, 2, 2) for text in texts]


def _findings(plan: Plan, color: bool, width: int) -> Iterator[str]:
    """Each finding in a line or two; what is missing in one list."""
    said = [
        painted(paragraph(text, width, 2, 2), LEVELS[finding.level], finding.level, color)
        for finding, text in sections.found(plan)
    ]
    if said:
        yield section(sections.FOUND, said, width)
    yield from missing_section(missing_in(plan.verified.assessment.findings), color, width)


def _timetable(plan: Plan, width: int) -> list[str]:
    lines = []
    for due in sections.timetable(plan):
        if due.date:
            lines.append(paragraph(due.date, width, 2))
        lines.append(paragraph(f"{due.time}  {due.said}", width, 4, 7))
    return lines or [paragraph(sections.NOTHING_DUE, width, 2)]
