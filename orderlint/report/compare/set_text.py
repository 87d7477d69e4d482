"""Two order sets beside each other as plain text, for their author.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.compare import set_sections as sections
from orderlint.report.compare.set_words import COVERS
from orderlint.report.layout import listed, painted, paragraph
from orderlint.report.order.text import suppressed_section
from orderlint.report.order.words import details
from orderlint.report.words import CAUTION, LEVELS, VERDICTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.sets import ComparedSets
    from orderlint.finding import Finding
    from orderlint.report.compare.set_sections import OneSided


def render(found: ComparedSets, *, color: bool, width: int, at: int) -> str:
    """The whole report, ending in a line feed.

    `width` is in columns; `at` is the instant of checking, in milliseconds since 1970 UTC.
    """
    parts = [
        *_opening(found, color, width),
        *(_block(finding, found, color, width) for finding in found.assessment.findings),
        *("\n".join(_order(order, width)) for order in sections.gone_and_new(found)),
        *(listed(part, width) for part in sections.parts(found)),
        *suppressed_section(found.assessment.suppressed, width),
        listed(sections.checked(found, at), width),
        paragraph(COVERS, width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _opening(found: ComparedSets, color: bool, width: int) -> Iterator[str]:
    yield "\n".join(paragraph(text, width, 0, 2) for text in sections.documents(found))
    relation, said = sections.relation(found)
    yield "\n".join([paragraph(relation, width), *(paragraph(text, width, 2) for text in said)])
    label = VERDICTS[found.assessment.verdict][0]
    notes = (paragraph(text, width, 2) for text in sections.notes(found))
    first = painted(f"Verdict on what is new: {label}", label, found.assessment.verdict, color)
    yield "\n".join([first, *notes])


def _block(finding: Finding, found: ComparedSets, color: bool, width: int) -> str:
    label = LEVELS[finding.level]
    first = paragraph(f"{label}: {sections.title(finding)}", width, 0, 2)
    lines = [painted(first, label, finding.level, color), paragraph(finding.says, width, 2)]
    shown = sections.shown_by(finding, found)
    if shown is not None:
        lines += _order(shown, width, indent=2)
    lines += [paragraph(line, width, 2, 2) for line in details(finding)]
    return "\n".join(lines)


def _order(order: OneSided, width: int, indent: int = 0) -> Iterator[str]:
    """An order of one set alone, under its heading."""
    yield paragraph(order.heading, width, indent)
    if order.picks:
        yield paragraph(sections.NEAREST, width, 2)
    for pick in order.picks:
        yield paragraph(pick, width, 4, 2)
    for line in order.lines:
        yield paragraph(line, width, 2, 2)
