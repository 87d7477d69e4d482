"""A plan as plain text: the verdict first, then what is due when, volumes and figures.

Joins the parts in order. Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.clock import wall_time
from orderlint.finding import Level
from orderlint.report import plan_words as words
from orderlint.report.layout import painted, paragraph, section
from orderlint.report.order_words import BEHAVIOUR, MISSING_FAMILY, heading, missing_in
from orderlint.report.table import behaviour_lines
from orderlint.report.text import closing, missing_section, opening
from orderlint.report.words import LEVELS
from orderlint.units import quantity_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.finding import Finding
    from orderlint.plan import Plan
    from orderlint.plan.parts import Span, Volumes


def render(plan: Plan, *, color: bool, width: int, at: int | None = None) -> str:
    """The whole plan, ending in a line feed. `width` is in columns.

    `at` is the instant of checking in milliseconds since 1970 UTC, named where it is given.
    """
    verified = plan.verified
    parts = [
        *opening(verified, color, width),
        *_findings(plan, color, width),
        section("The plan", _about(plan, width), width),
        section("Not in this plan", _gaps(plan, width), width),
        section("Timetable", _timetable(plan, width), width),
        section("Volumes", _volumes(plan, width), width),
        section("Bags to send up", _supplies(plan, width), width),
        section(
            BEHAVIOUR,
            behaviour_lines(verified.behaviour, verified.order.leaves, width),
            width,
        ),
        section("Figures of pressure and volume", _figures(plan, width), width),
        *closing(verified, width, at),
    ]
    return "\n\n".join(parts) + "\n"


def _findings(plan: Plan, color: bool, width: int) -> Iterator[str]:
    """Each finding in a line or two; what is missing in one list."""
    found = plan.verified.findings
    said = [_finding(f, color, width) for f in found if f.family != MISSING_FAMILY]
    if said:
        yield section("Found in the order (orderlint verify shows all of each):", said, width)
    yield from missing_section(missing_in(found), color, width)


def _finding(finding: Finding, color: bool, width: int) -> str:
    label = LEVELS[finding.level]
    line = paragraph(f"{label}: {heading(finding)}: {finding.says}", width, 2, 2)
    return painted(line, label, finding.level, color)


def _about(plan: Plan, width: int) -> Iterator[str]:
    yield paragraph(words.period_words(plan), width, 2)
    if any(finding.level is Level.DO_NOT_START for finding in plan.verified.findings):
        text = "The plan only reckons with what is written; it is no leave to start."
        yield paragraph(text, width, 2)
    for text in (*plan.notes, *words.assumptions(plan)):
        yield paragraph(text, width, 2)


def _gaps(plan: Plan, width: int) -> list[str]:
    lines = [paragraph(words.gap_words(gap, plan), width, 2, 2) for gap in plan.gaps]
    return lines or [paragraph("Nothing was left out.", width, 2)]


def _timetable(plan: Plan, width: int) -> list[str]:
    lines = []
    day = ""
    for at, events in words.rows(plan):
        moment = wall_time(plan.clock, at)
        if (date := words.date_words(moment)) != day:
            day = date
            lines.append(paragraph(date, width, 2))
        said = "; ".join(words.event_words(event, plan) for event in events)
        lines.append(paragraph(f"{words.time_words(moment)}  {said}", width, 4, 7))
    return lines or [paragraph("Nothing that is due can be listed.", width, 2)]


def _volumes(plan: Plan, width: int) -> list[str]:
    lines = []
    numbers = {"shift": 0, "day": 0}
    for span in plan.spans:
        numbers[span.kind] += 1
        label = f"{span.kind.capitalize()} {numbers[span.kind]}"
        lines.append(paragraph(f"{label}, {_hours(plan, span)}: {_span(span)}.", width, 2, 2))
    return lines or [paragraph(_none(plan), width, 2)]


def _none(plan: Plan) -> str:
    watches = plan.verified.order.leaves["therapy"].value == "monitoring"
    return "None: the order only monitors." if watches else "None can be reckoned."


def _hours(plan: Plan, span: Span) -> str:
    ends = (wall_time(plan.clock, at) for at in (span.start, span.end))
    return " to ".join(map(words.time_words, ends))


def _span(span: Span) -> str:
    said = _amounts(span.ordered)
    if span.earliest is not None and span.earliest != span.ordered:
        said += f"; {words.BASES['earliest']} {_amounts(span.earliest)}"
    return said


def _amounts(volumes: Volumes) -> str:
    irrigated, output = volumes.irrigated, volumes.output
    said = [] if irrigated is None else [f"irrigated {quantity_words(irrigated, 'mL')}"]
    said += [] if output is None else [f"expected output {quantity_words(output, 'mL')}"]
    return ", ".join(said)


def _supplies(plan: Plan, width: int) -> list[str]:
    lines = []
    for supply in plan.supplies:
        unit = _bag_unit(plan, supply.kind)
        counts = f"{supply.ordered}"
        if supply.earliest is not None and supply.earliest != supply.ordered:
            counts += f" at the ordered rate, {supply.earliest} {words.BASES['earliest']}"
        name = words.supply_name(supply.kind, supply.size, unit)
        line = f"{name[:1].upper()}{name[1:]}: {counts}, the first one included."
        lines.append(paragraph(line, width, 2, 2))
    return lines or [paragraph(_none(plan), width, 2)]


def _bag_unit(plan: Plan, kind: str) -> str | None:
    path = "irrigation.bag" if kind == "irrigation bag" else "drainage.bag"
    return plan.verified.order.leaves[path].unit


def _figures(plan: Plan, width: int) -> list[str]:
    unit = plan.verified.order.leaves["display_unit"].value
    lines = []
    for figure in plan.estimates.figures:
        cases = [f"{case} {words.figure_value(figure, v, unit)}" for case, v in figure.cases]
        lines.append(paragraph(f"{words.figure_name(figure)}: {', '.join(cases)}.", width, 2, 2))
    limits = words.FIGURE_LIMITS if lines else ()
    lines += [paragraph(text, width, 2) for text in (*words.estimate_gaps(plan), *limits)]
    return lines
