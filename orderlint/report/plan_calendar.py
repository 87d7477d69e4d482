"""A plan as an iCalendar (RFC 5545), an entry for each minute at which something is due.

The only import of icalendar, which escapes every text. Never an alarm: a calendar wakes nobody.
"""

from __future__ import annotations

from datetime import UTC, date
from hashlib import sha256
from typing import TYPE_CHECKING

from icalendar import Calendar, Event

from orderlint.clock import wall_time
from orderlint.finding import Verdict
from orderlint.report import plan_words as words
from orderlint.report.safe import safe
from orderlint.report.words import CAUTION, VERDICTS
from orderlint.wording import quoted

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.plan import Plan


def render(plan: Plan, at: int) -> str:
    """The calendar, each line ending as RFC 5545 has it; the same input, the same text.

    `at` is the instant of checking in milliseconds since 1970 UTC. An order that must not be
    started says so in the summary of each entry.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//orderlint//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("name", _title(plan))
    calendar.add("description", _description(plan))
    for minute, events in words.rows(plan):
        said = "; ".join(words.event_words(event, plan) for event in events)
        entry = Event()
        entry.add("uid", _identity(plan, minute, said))
        entry.add("dtstamp", wall_time(plan.clock, at).astimezone(UTC))
        entry.add("dtstart", _start(plan, minute))
        entry.add("summary", safe(f"{_warning(plan)}{said}"))
        entry.add("description", _description(plan))
        calendar.add_component(entry)
    first, last = (wall_time(plan.clock, at).year for at in (plan.start, plan.end))
    calendar.add_missing_timezones(date(first, 1, 1), date(last + 1, 1, 1))
    text: str = calendar.to_ical().decode()
    return text


def _start(plan: Plan, at: int) -> datetime:
    """In the zone; in UTC where there is none, or where the clock shows that time twice.

    RFC 5545, 3.3.5: a local time that comes twice is the first of the two, so that the second
    cannot be written in the zone.
    """
    moment = wall_time(plan.clock, at)
    return moment if plan.clock.name and not moment.fold else moment.astimezone(UTC)


def _title(plan: Plan) -> str:
    leaf = plan.verified.order.leaves["id"]
    order = quoted(leaf.text) if leaf.given else "without an identifier"
    return safe(f"{_warning(plan)}order {order}")


def _warning(plan: Plan) -> str:
    label, _ = VERDICTS[plan.verified.verdict]
    return f"{label}: " if plan.verified.verdict is Verdict.DO_NOT_START else ""


def _description(plan: Plan) -> str:
    label, sentence = VERDICTS[plan.verified.verdict]
    said = [f"Verdict: {label}. {sentence}", *plan.notes, *words.assumptions(plan)]
    said += [f"Not in this plan: {words.gap_words(gap, plan)}" for gap in plan.gaps]
    return "\n".join(map(safe, [*said, CAUTION]))


def _identity(plan: Plan, at: int, said: str) -> str:
    """The same for the same entry of the same order, so that a plan read twice is there once."""
    leaves = plan.verified.order.leaves
    parts = (leaves["id"].text, leaves["revision"].text, str(at), said)
    return f"{sha256(chr(0).join(parts).encode()).hexdigest()[:32]}@orderlint"
