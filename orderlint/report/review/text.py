"""One reviewed order set as plain text for its author.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order.text import inactive_lines, suppressed_section
from orderlint.report.order.words import CHECKED, NOT_ASKED, details
from orderlint.report.review import sections, words
from orderlint.report.words import CAUTION, LEVELS, VERDICTS

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator

    from orderlint.finding import Finding
    from orderlint.review import Reviewed


def render(
    reviewed: Reviewed, known: Container[Finding] = (), *, color: bool, width: int, at: int
) -> str:
    """The whole report, ending in a line feed; `at` is in milliseconds since 1970 UTC.

    `known` are the findings that stood in the baseline.
    """
    rules = (f"{result}: {ids}" for result, ids in sections.rules(reviewed))
    parts = [
        paragraph(words.heading(reviewed.order_set), width),
        _verdict(reviewed, color, width),
        *(
            _block(found, asked, reviewed, color, width, asked in known)
            for found, asked in zip(reviewed.findings, words.asked(reviewed), strict=True)
        ),
        *_together(reviewed, width),
        _listed(sections.PRESETS, sections.presets(reviewed), width),
        _listed(sections.TO_FILL, sections.to_fill(reviewed), width),
        _listed(sections.OPEN, sections.left_open(reviewed), width),
        *suppressed_section(reviewed.suppressed, width),
        _listed(sections.RULES, rules, width),
        section(NOT_ASKED, inactive_lines(reviewed.inactive, width), width),
        section(CHECKED, [paragraph(sections.checked(reviewed, at), width, 2)], width),
        paragraph(words.COVERS, width),
        paragraph(CAUTION, width),
    ]
    return "\n\n".join(parts) + "\n"


def _listed(heading: str, texts: Iterable[str], width: int) -> str:
    return section(heading, (paragraph(text, width, 2, 2) for text in texts), width)


def _verdict(reviewed: Reviewed, color: bool, width: int) -> str:
    label = VERDICTS[reviewed.verdict][0]
    lines = [painted(f"Verdict: {label}", label, reviewed.verdict, color)]
    lines += [paragraph(text, width, 2) for text in sections.notes(reviewed)]
    return "\n".join(lines)


def _together(reviewed: Reviewed, width: int) -> Iterator[str]:
    if said := words.together(reviewed):
        yield _listed(sections.TOGETHER, [said], width)


def _block(  # noqa: PLR0913, PLR0917 - one block, its finding with and without what is asked
    finding: Finding, asked: Finding, reviewed: Reviewed, color: bool, width: int, is_known: bool
) -> str:
    label = LEVELS[finding.level]
    first = paragraph(f"{label}: {sections.title(finding)}", width, 0, 2)
    lines = [painted(first, label, finding.level, color), paragraph(finding.says, width, 2)]
    if is_known:
        lines.append(paragraph(sections.KNOWN, width, 2))
    broken = sections.broken_by(finding, reviewed)
    if broken is not None:
        lines.append(paragraph(sections.NEAREST, width, 2))
        lines += [paragraph(line, width, 4, 2) for line in words.picks(broken)]
        lines.append(paragraph(words.verify_says(broken), width, 2))
    lines += [paragraph(line, width, 2, 2) for line in details(asked)]
    return "\n".join(lines)
