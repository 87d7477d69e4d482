"""Writes a plan as an iCalendar (RFC 5545): an entry for each minute at which something is due.

The calendar has a name and a description as in RFC 7986. The only import of icalendar, which
escapes every text. Never an alarm: a calendar wakes nobody.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from icalendar import Calendar, Event

from orderlint.finding import Level
from orderlint.local_time import wall_time
from orderlint.report.order.blocks import closing
from orderlint.report.order.words import verdict_words
from orderlint.report.plan import words
from orderlint.report.text import render_each
from orderlint.report.visible_text import safe
from orderlint.report.words import LEVELS
from orderlint.templates import quote

if TYPE_CHECKING:
    from orderlint.shift_plan import Plan
    from orderlint.shift_plan.model import Event as Due

_UNWRAPPED = 10_000
"""In columns: a calendar wraps a text itself."""

_REVISED = (
    "A plan made from another revision of this order replaces an entry only where both have one at "
    "the same time. Take the former plan out of the calendar before the new one is read in."
)
_IN_EACH = (
    "Decision support only; what the plan rests on, what it leaves out and the caution are in the "
    "description of the calendar."
)


def render(plan: Plan, at: int) -> str:
    """The calendar, each line ending as RFC 5545 has it; the same input, the same text.

    `at` is the instant of checking in milliseconds since 1970 UTC. An order that must not be
    started says so in the summary of each entry.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//orderlint//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("name", f"{_warning(plan)}{_title(plan)}")
    calendar.add("description", _description(plan, at))
    stamp = wall_time(plan.clock, at).astimezone(UTC)
    whose, revision = _whose(plan), _revision(plan)
    # The whole text in each entry would be megabytes.
    details = f"{_verdict(plan)} {_IN_EACH}"
    for minute, events in words.rows(plan):
        said = "; ".join(words.event_words(event, plan) for event in events)
        entry = Event()
        entry.add("uid", _identity(whose, minute, events))
        entry.add("sequence", revision)
        entry.add("dtstamp", stamp)
        entry.add("dtstart", _start(plan, minute))
        entry.add("summary", safe(f"{_warning(plan)}{_title(plan)}: {said}"))
        entry.add("description", details)
        calendar.add_component(entry)
    first, last = (wall_time(plan.clock, at).year for at in (plan.start, plan.end))
    calendar.add_missing_timezones(date(first, 1, 1), date(last + 1, 1, 1))
    text: str = calendar.to_ical().decode()
    return text


def _start(plan: Plan, at: int) -> datetime:
    """The start of an entry in the zone; in UTC if there is no zone, or the clock shows it twice.

    RFC 5545, 3.3.5: a local time that comes twice is the first of the two, so that the second
    cannot be written in the zone.
    """
    moment = wall_time(plan.clock, at)
    return moment if plan.clock.name and not moment.fold else moment.astimezone(UTC)


def _title(plan: Plan) -> str:
    leaf = plan.verified.order.leaves["id"]
    return safe(f"order {quote(leaf.text) if leaf.given else 'without an identifier'}")


def _warning(plan: Plan) -> str:
    """The beginning of each entry if a do-not-start rule is broken, or may be."""
    verified, heaviest = plan.verified, Level.DO_NOT_START
    if any(finding.level is heaviest for finding in verified.assessment.findings):
        return f"{LEVELS[heaviest]}: "
    said = []
    if any(rule.level is heaviest for rule in verified.assessment.unchecked):
        said.append("A DO-NOT-START RULE COULD NOT BE CHECKED")
    if any(item.finding.level is heaviest for item in verified.assessment.suppressed):
        said.append("A DO-NOT-START FINDING IS SUPPRESSED")
    return f"{', '.join(said)}: " if said else ""


def _description(plan: Plan, at: int) -> str:
    """The text of the plan without its timetable and figures."""
    said = [" ".join((_verdict(plan), _REVISED)), *plan.notes, *words.assumptions(plan)]
    said += [f"Not in this plan: {words.gap_words(gap, plan)}" for gap in plan.omissions]
    return "\n".join([*map(safe, said), *render_each(closing(plan.verified, at), width=_UNWRAPPED)])


def _verdict(plan: Plan) -> str:
    label, sentence = verdict_words(plan.verified)
    return f"Verdict: {label}. {sentence}"


def _whose(plan: Plan) -> str:
    """What identifies this order: its identifier or, without one, all that is written."""
    leaves = plan.verified.order.leaves
    if leaves["id"].known:
        return leaves["id"].text
    return chr(0).join(f"{path} {leaf.text}" for path, leaf in leaves.items())


def _revision(plan: Plan) -> int:
    """RFC 5545, 3.8.7.4: of two entries with one UID, that of the higher sequence replaces."""
    revision = plan.verified.order.leaves["revision"].value
    return revision if isinstance(revision, int) else 0


def _identity(whose: str, at: int, events: list[Due]) -> str:
    """The identifier of an entry: its place in the timetable of an order, in any revision.

    An event that depends on the rate has an entry of its own; the others share one per minute.
    """
    first = events[0]
    alone = words.stands_alone(first) or first.kind == "clock change"
    place = (first.kind, first.basis or "", str(first.number)) if alone else ("",)
    digest = sha256(chr(0).join((whose, str(at), *place)).encode()).hexdigest()
    return f"{digest[:32]}@orderlint"
