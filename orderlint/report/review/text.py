"""One reviewed order set as plain text for its author.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order.table import behaviour_lines
from orderlint.report.order.text import inactive_lines, missing_line, suppressed_section
from orderlint.report.order.words import BEHAVIOUR, CHECKED, NOT_ASKED, details
from orderlint.report.review import narrowings, sections, words
from orderlint.report.words import CAUTION, LEVELS, VERDICTS

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator

    from orderlint.finding import Finding
    from orderlint.set_review import Reviewed


def render(
    reviewed: Reviewed, known: Container[Finding] = (), *, color: bool, width: int, at: int
) -> str:
    """The whole report, ending in a line feed; `at` is in milliseconds since 1970 UTC.

    `known` are the findings that stood in the baseline.
    """
    asked = zip(reviewed.assessment.findings, narrowings.asked(reviewed), strict=True)
    gone = sections.missing(reviewed)
    parts = [
        paragraph(words.heading(reviewed.order_set), width),
        _verdict(reviewed, color, width),
        *_presets(reviewed, width),
        *_missing(reviewed, known, color, width),
        *(
            _block(found, asks, reviewed, color, width, asks in known)
            for found, asks in asked
            if found not in gone
        ),
        *_covered(reviewed, width),
        *_together(reviewed, width),
        _listed(sections.OPEN, sections.left_open(reviewed), width),
        *suppressed_section(reviewed.assessment.suppressed, width),
        section(sections.RULES, _rules(reviewed, width), width),
        section(NOT_ASKED, inactive_lines(reviewed.assessment.inactive, width), width),
        section(CHECKED, [paragraph(sections.checked(reviewed, at), width, 2)], width),
        paragraph(words.COVERS, width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _listed(heading: str, texts: Iterable[str], width: int) -> str:
    return section(heading, (paragraph(text, width, 2, 2) for text in texts), width)


def _verdict(reviewed: Reviewed, color: bool, width: int) -> str:
    label = VERDICTS[reviewed.assessment.verdict][0]
    lines = [painted(f"Verdict: {label}", label, reviewed.assessment.verdict, color)]
    lines += [paragraph(text, width, 2) for text in sections.notes(reviewed)]
    return "\n".join(lines)


def _presets(reviewed: Reviewed, width: int) -> Iterator[str]:
    """Whether they are sound, and what the controller would do with them."""
    said = (paragraph(text, width, 2) for text in sections.presets(reviewed))
    yield section(sections.PRESETS, said, width)
    signed = reviewed.presets
    table = behaviour_lines(signed.behaviour, signed.order.leaves, width)
    yield section(BEHAVIOUR, table, width)


def _missing(
    reviewed: Reviewed, known: Container[Finding], color: bool, width: int
) -> Iterator[str]:
    lines = [missing_line(*line, color, width) for line in sections.missing_lines(reviewed, known)]
    if lines:
        yield section(sections.MISSING, lines, width)


def _covered(reviewed: Reviewed, width: int) -> Iterator[str]:
    if said := words.covered(reviewed):
        yield _listed(sections.COVERED, said, width)


def _together(reviewed: Reviewed, width: int) -> Iterator[str]:
    offers, proved = narrowings.together(reviewed)
    lines = [paragraph(narrowings.made_together(offers), width, 2)] if offers else []
    lines += [paragraph(offer, width, 4, 2) for offer in offers]
    if proved:
        yield section(sections.TOGETHER, [*lines, paragraph(proved, width, 2)], width)


def _rules(reviewed: Reviewed, width: int) -> Iterator[str]:
    for name, means, ids in sections.rules(reviewed):
        yield paragraph(f"{name}: {means}", width, 2, 2)
        yield paragraph(ids, width, 4)


def _block(  # noqa: PLR0913, PLR0917 - one block, its finding with and without what is asked
    finding: Finding, asked: Finding, reviewed: Reviewed, color: bool, width: int, is_known: bool
) -> str:
    label = LEVELS[finding.level]
    first = paragraph(f"{label}: {sections.title(finding)}", width, 0, 2)
    broken = sections.broken_by(finding, reviewed)
    says = words.leads(broken) if broken else finding.says
    lines = [painted(first, label, finding.level, color), paragraph(says, width, 2)]
    if broken is not None:
        lines += [paragraph(line, width, 4, 2) for line in words.picks(broken)]
        lines.append(paragraph(words.verify_says(broken), width, 2))
    if is_known:
        lines.append(paragraph(sections.KNOWN, width, 2))
    lines += [paragraph(line, width, 2, 2) for line in details(asked)]
    return "\n".join(lines)
