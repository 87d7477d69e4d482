"""Makes blocks of a plan: the verdict, then what is due when, volumes and figures.

Never leaves a part out because there is nothing to say in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.finding import Level
from orderlint.local_time import wall_time
from orderlint.quantity_words import format_quantity
from orderlint.report import blocks as b
from orderlint.report.order import blocks as of_order
from orderlint.report.order.words import finding_heading, missing_in, verdict_words
from orderlint.report.picture.diagram import diagram_of
from orderlint.report.plan import estimate_words, words
from orderlint.rulebook.rule import MISSING_FAMILY

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.shift_plan import Plan
    from orderlint.shift_plan.model import Period, Volumes
    from orderlint.verification import Verified

FOUND = "Found in the order (orderlint verify shows all of each):"


def title(plan: Plan) -> str:
    """The title of the page."""
    return f"{verdict_words(plan.verified)[0]}: {plan.verified.file}"


def brief_blocks(plan: Plan, at: int) -> Iterator[b.Block]:
    """What a shift is planned by: what is due, volumes and bags; `at` is as in `blocks`."""
    yield from _planned(plan)
    yield from of_order.brief_closing(plan.verified, at)


def blocks(plan: Plan, at: int, digest: str = "") -> Iterator[b.Block]:
    """The plan.

    `at` is the instant of checking in milliseconds since 1970 UTC, `digest` the SHA-256 of the
    order's bytes in hexadecimal digits, if it is to be shown.
    """
    verified = plan.verified
    yield from _planned(plan)
    diagram = diagram_of(verified.behaviour, verified.order.leaves)
    picture = b.Picture(diagram, "order") if diagram else None
    yield b.WithPicture(picture, (of_order.behaviour_section(verified, "order"),))
    limits = estimate_words.FIGURE_LIMITS if plan.estimates.items else ()
    notes = b.Paragraphs((*estimate_words.estimate_gaps(plan), *limits), "small")
    yield b.ReportSection("Figures of pressure and volume", (b.Items(tuple(_figures(plan))), notes))
    yield of_order.written_section(verified.order.leaves)
    yield from of_order.closing(verified, at, digest)


def _planned(plan: Plan) -> Iterator[b.Block]:
    """The verdict, what was found, what is due when, volumes and bags."""
    verified = plan.verified
    yield from of_order.opening(verified)
    yield b.Timeline(plan)
    yield from _found(verified)
    yield b.ReportSection("The plan", (b.Paragraphs(tuple(_about(plan))),))
    gaps = (words.gap_words(gap, plan) for gap in plan.omissions)
    yield b.list_section("Not in this plan", gaps, without="Nothing was left out.")
    yield b.ReportSection("Timetable", tuple(_timetable(plan)))
    yield b.list_section("Volumes", _volumes(plan), without=_none(plan))
    yield from of_order.additive_section(verified)
    yield b.list_section("Bags to send up", _supplies(plan), without=_none(plan))


def _found(verified: Verified) -> Iterator[b.Block]:
    """Each finding in a line or two; what is missing in one list."""
    lines = [
        b.Marked(finding.level, f"{finding_heading(finding)}: {finding.says}")
        for finding in verified.assessment.findings
        if finding.family != MISSING_FAMILY
    ]
    if lines:
        yield b.list_section(FOUND, lines)
    if missing := missing_in(verified.assessment.findings):
        yield of_order.missing_section(missing)


def _about(plan: Plan) -> Iterator[str]:
    """The hours that are planned, and the assumptions."""
    yield words.period_words(plan)
    if any(finding.level is Level.DO_NOT_START for finding in plan.verified.assessment.findings):
        yield "The plan only reckons with what is written; it is no leave to start."
    yield from (*plan.notes, *words.assumptions(plan))


def _timetable(plan: Plan) -> Iterator[b.Block]:
    """The checks that recur, each once, and what else is due when."""
    recurring = tuple(words.recurring_words(plan))
    dues = tuple(_dues(plan))
    if recurring:
        yield b.Items(recurring)
    if dues:
        yield b.Timetable(dues)
    if not (recurring or dues):
        yield b.paragraph("Nothing that is due can be listed.")


def _dues(plan: Plan) -> Iterator[b.Due]:
    """What is due when, in the order of time, but for the checks that recur."""
    day = ""
    for at, events in words.rows(plan, words.recurring(plan)):
        moment = wall_time(plan.clock, at)
        date = words.date_words(moment)
        said = "; ".join(words.event_words(event, plan) for event in events)
        yield b.Due("" if date == day else date, words.time_words(moment), said)
        day = date


def _volumes(plan: Plan) -> Iterator[str]:
    """What runs in and out in each shift and day."""
    numbers = {"shift": 0, "day": 0}
    for span in plan.periods:
        numbers[span.kind] += 1
        label = f"{span.kind.capitalize()} {numbers[span.kind]}"
        ends = (words.time_words(wall_time(plan.clock, at)) for at in (span.start, span.end))
        yield f"{label}, {' to '.join(ends)}: {_span(span)}."


def _none(plan: Plan) -> str:
    watches = plan.verified.order.leaves["therapy"].value == "monitoring"
    return "None: the order only monitors." if watches else "None can be reckoned."


def _span(span: Period) -> str:
    said = _amounts(span.ordered)
    if span.earliest is not None and span.earliest != span.ordered:
        said += f"; {words.BASES['earliest']} {_amounts(span.earliest)}"
    return said


def _amounts(volumes: Volumes) -> str:
    irrigated, output = volumes.irrigated, volumes.output
    said = [] if irrigated is None else [f"irrigated {format_quantity(irrigated, 'mL')}"]
    said += [] if output is None else [f"expected output {format_quantity(output, 'mL')}"]
    return ", ".join(said)


def _supplies(plan: Plan) -> Iterator[str]:
    """The bags to send up, the first ones included."""
    for supply in plan.supplies:
        path = "irrigation.bag" if supply.kind == "irrigation bag" else "drainage.bag"
        unit = plan.verified.order.leaves[path].unit
        counts = f"{supply.ordered}"
        if supply.earliest is not None and supply.earliest != supply.ordered:
            counts += f" at the ordered rate, {supply.earliest} {words.BASES['earliest']}"
        size = format_quantity(supply.size, unit or "mL")
        yield f"{supply.kind.capitalize()}s of {size}: {counts}, the first one included."


def _figures(plan: Plan) -> Iterator[str]:
    """The figures, a line each."""
    unit = plan.verified.order.leaves["display_unit"].value
    for figure in plan.estimates.items:
        cases = [
            f"{case} {estimate_words.figure_value(figure, v, unit)}" for case, v in figure.cases
        ]
        yield f"{estimate_words.FIGURES[figure.kind]}: {', '.join(cases)}."
