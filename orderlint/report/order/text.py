"""One verified order as plain text that a nurse can read at night, or hear from a screen reader.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order import words
from orderlint.report.order.table import behaviour_lines
from orderlint.report.picture.diagram import scene_of
from orderlint.report.picture.text import picture_lines
from orderlint.report.words import ALREADY_RUNNING, CAUTION, LEVELS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.finding import Finding, Inactive, Level, Suppressed
    from orderlint.verification import Verified


def render(verified: Verified, *, color: bool, width: int, at: int | None = None) -> str:
    """The whole report on one order, ending in a line feed.

    `width` is in columns; `at` is the instant of checking in milliseconds since 1970 UTC, named
    in the report where it is given. The text holds no control character but line feeds and, with
    `color`, colour.
    """
    parts = [
        *opening(verified, color, width),
        *_picture(verified, width),
        *_findings(verified.assessment.findings, color, width),
        section(
            words.BEHAVIOUR,
            behaviour_lines(verified.behaviour, verified.order.leaves, width),
            width,
        ),
        *closing(verified, width, at),
    ]
    return "\n\n".join(parts) + "\n"


def closing(verified: Verified, width: int, at: int | None) -> Iterator[str]:
    """What was not checked, suppressed, not asked and checked, and the caution: each report's end.

    `at` is the instant of checking in milliseconds since 1970 UTC, if it is to be named.
    """
    left = words.unchecked_words(verified.assessment.unchecked, verified.order.leaves)
    yield section(words.UNCHECKED, [paragraph(text, width, 2, 2) for text in left], width)
    yield from suppressed_section(verified.assessment.suppressed, width)
    yield section(words.NOT_ASKED, inactive_lines(verified.assessment.inactive, width), width)
    yield section(words.CHECKED, [paragraph(words.checked_words(verified, at), width, 2)], width)
    yield paragraph(CAUTION, width)


def opening(verified: Verified, color: bool, width: int) -> Iterator[str]:
    """The document, the verdict and, for an order that may be running, what not to do."""
    if words.may_be_running(verified):
        yield paragraph(ALREADY_RUNNING, width)
    yield paragraph(words.document_words(verified), width)
    label, _ = words.verdict_words(verified)
    lines = [painted(f"Verdict: {label}", label, verified.assessment.verdict, color)]
    lines += [paragraph(text, width, 2) for text in words.verdict_notes(verified)]
    yield "\n".join(lines)


def _picture(verified: Verified, width: int) -> Iterator[str]:
    """The picture, where there is one; the table of segments says all of it in words."""
    scene = scene_of(verified.behaviour, verified.order.leaves)
    lines = picture_lines(scene, width) if scene else []
    if lines:
        yield section(words.PICTURE, lines, width)


def _findings(findings: tuple[Finding, ...], color: bool, width: int) -> Iterator[str]:
    """Each finding, heaviest first; missing parts in one list, at its heaviest level's end."""
    for group in words.in_order(findings):
        if group[0].family == words.MISSING_FAMILY:
            yield from missing_section(group, color, width)
        else:
            yield block(group[0], color, width)


def block(finding: Finding, color: bool, width: int) -> str:
    """A finding with all that is said of it."""
    label = LEVELS[finding.level]
    first = paragraph(f"{label}: {words.heading(finding)}", width, 0, 2)
    lines = [painted(first, label, finding.level, color), paragraph(finding.says, width, 2)]
    lines += [paragraph(line, width, 2, 2) for line in words.details(finding)]
    return "\n".join(lines)


def missing_section(findings: list[Finding], color: bool, width: int) -> Iterator[str]:
    """Settings not written, one line for each level and section; no part where none is missing."""
    if findings:
        lines = (missing_line(*line, color, width) for line in words.missing_words(findings))
        yield section(words.missing_heading(findings), lines, width)


def missing_line(level: Level, text: str, color: bool, width: int) -> str:
    """A level and the settings of one section that are not written."""
    label = LEVELS[level]
    return painted(paragraph(f"{label}: {text}", width, 2, 2), label, level, color)


def suppressed_section(suppressed: Iterable[Suppressed], width: int) -> Iterator[str]:
    """What the policy keeps from being a finding. Only a policy file can; else there is no part."""
    lines = []
    for item in suppressed:
        first, says, *beneath = words.suppressed_words(item)
        lines += [paragraph(first, width, 2, 2), paragraph(says, width, 4)]
        lines += [paragraph(text, width, 4, 2) for text in beneath]
    if lines:
        yield section(words.SUPPRESSED, lines, width)


def inactive_lines(inactive: Iterable[Inactive], width: int) -> list[str]:
    """The rules that were not asked, a paragraph for each reason, or that there is none."""
    return [paragraph(text, width, 2, 2) for text in words.not_asked_words(inactive)]


def render_unread(reason: str, width: int) -> str:
    """The report on a file that was not checked at all, ending in a line feed."""
    return paragraph(words.not_checked_words(reason), width) + "\n"
