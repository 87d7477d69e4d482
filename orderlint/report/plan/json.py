"""Writes a plan as JSON, as schemas/plan.schema.json describes it.

Names, order and form of the members. Never wording, never a float.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.local_time import wall_time
from orderlint.quantity_words import format_quantity
from orderlint.report.order import json as of_order
from orderlint.report.plan import estimate_words, words
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION

if TYPE_CHECKING:
    from fractions import Fraction

    from orderlint.shift_plan import Plan
    from orderlint.shift_plan.estimates import Estimate
    from orderlint.shift_plan.model import Event, Period, Supply, Volumes


def render(plan: Plan, at: int) -> str:
    """The plan, ending in a line feed; the same input, the same text.

    `at` is the instant of checking in milliseconds since 1970 UTC.
    """
    verified = plan.verified
    members: dict[str, of_order.Member] = {
        "file": safe(verified.file),
        "document": "order",
        "verdict": verified.assessment.verdict.value,
        **of_order.assessment_members(verified.assessment),
        "not_checked": of_order.not_checked_members(verified.not_checked),
        "from": _time(plan, plan.start),
        "to": _time(plan, plan.end),
        "zone": plan.clock.name,
        "notes": [safe(note) for note in plan.notes],
        "assumptions": [safe(text) for text in words.assumptions(plan)],
        "gaps": [
            {
                "part": gap.part,
                "lacking": [*gap.missing],
                "says": safe(words.gap_words(gap, plan)),
            }
            for gap in plan.omissions
        ],
        "events": [_event(event, plan) for event in plan.events],
        "volumes": [_span(span, plan) for span in plan.periods],
        "bags": [_supply(supply) for supply in plan.supplies],
        **of_order.behaviour_members(verified),
        "figures": [_figure(figure, plan) for figure in plan.estimates.items],
        "figures_blank": [safe(text) for text in estimate_words.estimate_gaps(plan)],
        "figures_limits": [*estimate_words.FIGURE_LIMITS] if plan.estimates.items else [],
        "checked": of_order.checked_member(verified, at),
        "caution": CAUTION,
    }
    return of_order.report_text(members)


def _time(plan: Plan, at: int) -> str:
    """Wall time with its offset, to the millisecond where the second is not whole."""
    part = "milliseconds" if at % 1000 else "seconds"
    return wall_time(plan.clock, at).isoformat(timespec=part)


def _event(event: Event, plan: Plan) -> of_order.Member:
    return {
        "at": _time(plan, event.at),
        "event": event.kind,
        "basis": event.basis,
        "number": event.number,
        "rate": None if event.rate is None else format_quantity(event.rate, "mL/h"),
        "says": safe(words.event_words(event, plan)),
    }


def _span(span: Period, plan: Plan) -> of_order.Member:
    return {
        "span": span.kind,
        "from": _time(plan, span.start),
        "to": _time(plan, span.end),
        "ordered_rate": _volumes(span.ordered),
        "earliest": None if span.earliest is None else _volumes(span.earliest),
    }


def _volumes(volumes: Volumes) -> of_order.Member:
    return {"irrigated": _amount(volumes.irrigated), "output": _amount(volumes.output)}


def _amount(volume: Fraction | None) -> of_order.Member:
    return None if volume is None else format_quantity(volume, "mL")


def _supply(supply: Supply) -> of_order.Member:
    return {
        "bag": supply.kind,
        "size": format_quantity(supply.size, "mL"),
        "ordered_rate": supply.ordered,
        "earliest": supply.earliest,
    }


def _figure(figure: Estimate, plan: Plan) -> of_order.Member:
    unit = plan.verified.order.leaves["display_unit"].value
    return {
        "figure": figure.kind,
        "says": estimate_words.FIGURES[figure.kind],
        "cases": [
            {"case": case, "value": estimate_words.figure_value(figure, value, unit)}
            for case, value in figure.cases
        ],
    }
