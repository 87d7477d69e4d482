"""The words of a plan, shared by its text, JSON and calendar.

Events, times and assumptions. Never what is due, and never a layout.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from orderlint.infusion import HOUR
from orderlint.local_time import Clock, fixed_clock, format_time, wall_time
from orderlint.quantity_words import format_duration, format_quantity
from orderlint.report.order.segment_words import describe_missing, list_missing
from orderlint.shift_plan.settings import CHECKS
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Mapping
    from datetime import datetime

    from orderlint.order import Leaf
    from orderlint.shift_plan import Plan
    from orderlint.shift_plan.model import Event, EventKind, Formation, Omission

_RECURS = 3
"""Times that a check is due in a plan so that it is said once and not each time."""
_MOST_TIMES = 8
"""Times of day that are listed of one check."""
BASES = {"ordered rate": "at the ordered rate", "earliest": "as early as titration allows"}
EVENTS = {
    "icp check": "ICP check",
    "neurological check": "neurological check",
    "output check": "output check",
    "level check": "drain level check",
    "zeroing": "zeroing",
    "bag notice": "80 % of irrigation bag {number} used",
    "bag empty": "irrigation bag {number} empty: next bag",
    "bag change": "irrigation bag {number} due to be changed, though not empty",
    "collection bag full": "collection bag {number} full: next bag",
    "daily limit": "daily irrigation limit reached on day {number}",
    "review": "review of the order due",
}
# Not the calendar module's names: those follow the locale of the machine.
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
_FIRST_BAGS = {
    "irrigation bag": "a full irrigation bag",
    "collection bag": "an empty collection bag",
}
_MEASURED_OF_ADULTS = (
    "Mean measured outflow of adult drains was 7.5 mL/h (pubmed.gov/19814755, abstract only)."
)
_MEASURED_OF_CHILDREN = (
    "Mean CSF output of 100 infants and children was 8.1 mL/h (Yasuda, CSF output in 100 "
    "children, abstract only)."
)


def event_words(event: Event, plan: Plan) -> str:
    """What is due, and at which rate where that matters; one line, not made safe."""
    if event.kind == "clock change":
        return _change_words(event.at, plan.clock)
    if event.kind == "titration step":
        return f"earliest titration step: to {format_quantity(event.rate or 0, 'mL/h')}"
    words = EVENTS[event.kind].replace("{number}", str(event.number))
    if event.kind == "review" and event.at < plan.end:
        words += " (the plan runs on as if it were renewed unchanged)"
    return f"{BASES[event.basis]}: {words}" if event.basis else words


def _change_words(at: int, clock: Clock) -> str:
    before, after = wall_time(clock, at - 1), wall_time(clock, at)
    was = wall_time(fixed_clock(_offset(before)), at)
    way = "forward" if _offset(after) > _offset(before) else "back"
    hours = f"from {time_words(was)} to {time_words(after)}"
    return f"the clock is put {way} {hours}; times from here on are {offset_words(after)}"


def rows(plan: Plan, without: Container[EventKind] = ()) -> Iterator[tuple[int, list[Event]]]:
    """The whole minutes at which something is due, each with its events; what is sure together.

    Events of the kinds `without` are left out.

    A change of the clock comes before all that is shown with the same minute.
    """
    keyed = sorted(
        (
            (_row(index, event), event)
            for index, event in enumerate(plan.events)
            if event.kind not in without
        ),
        key=lambda pair: pair[0],
    )
    for (at, *_), events in groupby(keyed, key=lambda pair: pair[0]):
        yield at, [event for _, event in events]


def recurring(plan: Plan) -> Mapping[EventKind, tuple[int, ...]]:
    """The checks that come at a steady interval, each with its instants, to be said once.

    None where the clock is put forward or back: then the times of day are not steady.
    """
    if any(event.kind == "clock change" for event in plan.events):
        return {}
    due = {
        kind: tuple(event.at for event in plan.events if event.kind == kind)
        for kind in CHECKS.values()
    }
    return {kind: instants for kind, instants in due.items() if len(instants) >= _RECURS}


def recurring_words(plan: Plan) -> Iterator[str]:
    """How often each check recurs and when, a line for those that are due together."""
    together: dict[tuple[int, ...], list[str]] = {}
    for kind, instants in recurring(plan).items():
        together.setdefault(instants, []).append(EVENTS[kind])
    for instants, names in together.items():
        every = format_duration(instants[1] - instants[0])
        times = [time_words(wall_time(plan.clock, at)) for at in instants]
        shown = ", ".join(times) if len(times) <= _MOST_TIMES else f"from {times[0]}"
        yield f"Every {every}, {shown}: {'; '.join(names)}."


def _row(index: int, event: Event) -> tuple[int, bool, int]:
    """Where an event stands in the list."""
    alone = index + 1 if stands_alone(event) else 0
    return to_minute(event.at), event.kind != "clock change", alone


def stands_alone(event: Event) -> bool:
    """True if the time of an event depends on the rate, so that it has a row of its own."""
    return event.basis is not None or event.kind == "titration step"


def to_minute(at: int) -> int:
    """The nearest whole minute to an instant in milliseconds, the later of two."""
    return (at + 30_000) // 60_000 * 60_000


def time_words(moment: datetime) -> str:
    """As in 04:20."""
    return f"{moment.hour:02d}:{moment.minute:02d}"


def date_words(moment: datetime) -> str:
    """As in Tuesday 3 March 2026."""
    day, month = _DAYS[moment.weekday()], _MONTHS[moment.month - 1]
    return f"{day} {moment.day} {month} {moment.year}"


def offset_words(moment: datetime) -> str:
    """As in UTC-06:00; with its seconds, where an offset of long ago has any."""
    seconds = _offset(moment)
    hours, rest = divmod(abs(seconds), 3600)
    part = f":{rest % 60:02d}" if rest % 60 else ""
    return f"UTC{'-' if seconds < 0 else '+'}{hours:02d}:{rest // 60:02d}{part}"


def _offset(moment: datetime) -> int:
    offset = moment.utcoffset()
    assert offset is not None  # INVARIANT: a clock's times know their offset
    return int(offset.total_seconds())


def period_words(plan: Plan) -> str:
    """From when to when, how long, and on which clock."""
    start, end = (wall_time(plan.clock, at) for at in (plan.start, plan.end))
    offsets = dict.fromkeys(map(offset_words, (start, end)))
    clock = f"the clock of {plan.clock.name}" if plan.clock.name else "a clock at a fixed offset"
    return (
        f"From {date_words(start)}, {format_time(start)}, "
        f"to {date_words(end)}, {format_time(end)}: {(plan.end - plan.start) // HOUR} h, "
        f"on {clock} ({', then '.join(offsets)})."
    )


def gap_words(gap: Omission, plan: Plan) -> str:
    """The part left out and why, as a sentence."""
    leaves = plan.verified.order.leaves
    missing = list_missing(gap.missing, leaves)
    return f"{gap.part}: {f'for lack of {missing}' if missing else gap.reason}."


def assumptions(plan: Plan) -> Iterator[str]:
    """The assumptions of times and volumes, a sentence or two each."""
    since = "the order's start time" if plan.begins > plan.start else "the start of the plan"
    yield (
        "Times are to the nearest minute. Checks, shifts of 8 h and days of 24 h are counted from "
        f"{since}, and each check is first due then. A ward may count otherwise."
    )
    if plan.supplies:
        bags = " and ".join(_FIRST_BAGS[supply.kind] for supply in plan.supplies)
        yield (
            f"Bag times begin with {bags} at the start, and hold while nothing pauses. Each pause "
            "makes them later."
        )
    if plan.titrates:
        yield (
            "What depends on the rate is given twice: at the ordered rate throughout, and with "
            f"the rate raised as early and as far as titration allows{_since(plan)}. Whether it is "
            f"raised depends on the titration goal: {_goal(plan)}."
        )
    if any(event.kind == "daily limit" for event in plan.events):
        yield (
            "Times after a daily limit is reached are as if irrigation went on; what is to happen "
            "at the limit is the prescriber's to say."
        )
    if plan.formation is not None:
        yield _output_words(plan.formation, plan.verified.order.leaves)


def _since(plan: Plan) -> str:
    """Say that titration is counted from the plan's start, if the order's is unknown."""
    starts = plan.verified.order.leaves["starts"]
    lacking = (
        f", counted from the start of the plan, for lack of {describe_missing(starts.path, starts)}"
    )
    return "" if starts.known else lacking


def _goal(plan: Plan) -> str:
    leaf = plan.verified.order.leaves["titration.goal"]
    return quote(leaf.text) if leaf.known else describe_missing(leaf.path, leaf)


def _output_words(rate: Formation, leaves: Mapping[str, Leaf]) -> str:
    formed, group = format_quantity(rate.ticks, "mL/h"), leaves["patient.group"].value
    irrigated = "what is irrigated and " if leaves["therapy"].value == "irrigation" else ""
    measured = _MEASURED_OF_ADULTS if group == "adult" else _MEASURED_OF_CHILDREN
    return (
        f"Expected output is {irrigated}{formed} of CSF formation ({group}; {rate.source}), where "
        f"all of it leaves by the drain. {measured}"
    )
