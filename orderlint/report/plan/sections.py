"""What a plan says in each of its sections, line by line, for its text and its page.

Sentences not yet wrapped or made safe. Never what is due, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.clock import wall_time
from orderlint.finding import Level
from orderlint.report.order.words import MISSING_FAMILY, heading
from orderlint.report.plan import words
from orderlint.report.words import LEVELS
from orderlint.units import quantity_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.finding import Finding
    from orderlint.shift_plan import Plan
    from orderlint.shift_plan.model import Span, Volumes

FOUND = "Found in the order (orderlint verify shows all of each):"
ABOUT = "The plan"
GAPS = "Not in this plan"
TIMETABLE = "Timetable"
VOLUMES = "Volumes"
SUPPLIES = "Bags to send up"
FIGURES = "Figures of pressure and volume"
NOTHING_DUE = "Nothing that is due can be listed."


class Due(NamedTuple):
    """What is due at one time: the date, where it is another than that of the line before."""

    date: str
    time: str
    said: str


def found(plan: Plan) -> Iterator[tuple[Finding, str]]:
    """Each finding that is not of a missing part, in a line or two."""
    for finding in plan.verified.assessment.findings:
        if finding.family != MISSING_FAMILY:
            yield finding, f"{LEVELS[finding.level]}: {heading(finding)}: {finding.says}"


def about(plan: Plan) -> Iterator[str]:
    """The hours that are planned, and what the plan rests on."""
    yield words.period_words(plan)
    if any(finding.level is Level.DO_NOT_START for finding in plan.verified.assessment.findings):
        yield "The plan only reckons with what is written; it is no leave to start."
    yield from (*plan.notes, *words.assumptions(plan))


def gaps(plan: Plan) -> list[str]:
    """What the order does not suffice for."""
    return [words.gap_words(gap, plan) for gap in plan.gaps] or ["Nothing was left out."]


def timetable(plan: Plan) -> Iterator[Due]:
    """What is due when, in the order of time."""
    day = ""
    for at, events in words.rows(plan):
        moment = wall_time(plan.clock, at)
        date = words.date_words(moment)
        said = "; ".join(words.event_words(event, plan) for event in events)
        yield Due("" if date == day else date, words.time_words(moment), said)
        day = date


def volumes(plan: Plan) -> list[str]:
    """What runs in and out in each shift and day."""
    lines = []
    numbers = {"shift": 0, "day": 0}
    for span in plan.spans:
        numbers[span.kind] += 1
        label = f"{span.kind.capitalize()} {numbers[span.kind]}"
        lines.append(f"{label}, {_hours(plan, span)}: {_span(span)}.")
    return lines or [_none(plan)]


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


def supplies(plan: Plan) -> list[str]:
    """The bags to send up, the first ones included."""
    lines = []
    for supply in plan.supplies:
        unit = _bag_unit(plan, supply.kind)
        counts = f"{supply.ordered}"
        if supply.earliest is not None and supply.earliest != supply.ordered:
            counts += f" at the ordered rate, {supply.earliest} {words.BASES['earliest']}"
        name = words.supply_name(supply.kind, supply.size, unit)
        lines.append(f"{name[:1].upper()}{name[1:]}: {counts}, the first one included.")
    return lines or [_none(plan)]


def _bag_unit(plan: Plan, kind: str) -> str | None:
    path = "irrigation.bag" if kind == "irrigation bag" else "drainage.bag"
    return plan.verified.order.leaves[path].unit


def figures(plan: Plan) -> list[str]:
    """The figures, a line each."""
    unit = plan.verified.order.leaves["display_unit"].value
    lines = []
    for figure in plan.estimates.figures:
        cases = [f"{case} {words.figure_value(figure, v, unit)}" for case, v in figure.cases]
        lines.append(f"{words.figure_name(figure)}: {', '.join(cases)}.")
    return lines


def figure_notes(plan: Plan) -> list[str]:
    """Why figures are left blank, and what those that there are rest on."""
    limits = words.FIGURE_LIMITS if plan.estimates.figures else ()
    return [*words.estimate_gaps(plan), *limits]
