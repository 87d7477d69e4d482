"""Notes on a plan: on the order's own times, its status and its fluid.

Sentences for a reader. Never an omission, and never an event.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.local_time import Clock, fixed_clock, format_time, is_valid_local_time, wall_time
from orderlint.quantity_words import format_quantity
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Leaf
    from orderlint.shift_plan.settings import PlanSettings
    from orderlint.shift_plan.timetable import Scenario

_SALINE = (
    "In endoscopy with sodium chloride 0.9 % (29 patients), 500 mL of irrigation or more went with "
    "a fall of CSF pH above 0.2 (sensitivity 0.7, specificity 0.87; doi 10.1055/s-2007-973823, "
    "abstract only). That is no daily dose and no rule."
)


def short_of_maximum(settings: PlanSettings) -> Iterator[str]:
    """Note that whole steps do not reach the titration maximum."""
    titration = settings.titration
    if titration is not None and titration.highest < titration.most:
        step, top, most = (
            format_quantity(ticks, "mL/h")
            for ticks in (titration.step, titration.highest, titration.most)
        )
        yield (
            f"Whole titration steps of {step} lead to {top}. Nothing in the order says that the "
            f"rate goes on to the maximum, {most}, by a smaller step, so the plan stays at {top}."
        )


def given_on_another_clock(clock: Clock, start: int, offset: int) -> Iterator[str]:
    """Note that the start was given with an offset that the zone does not have then."""
    written, ward = wall_time(fixed_clock(offset), start), wall_time(clock, start)
    if written.utcoffset() != ward.utcoffset():
        day = "" if written.date() == ward.date() else f", {ward:%Y-%m-%d}"
        time = format_time(written)
        skipped = (
            ""
            if is_valid_local_time(clock, written)
            else f" It is put forward past {time} on that day."
        )
        yield (
            f"The start of the plan is written {time} {written.tzname()}; on the ward's clock "
            f"({clock.name}) that is {format_time(ward)}{day}.{skipped}"
        )


def notes_of(leaves: Mapping[str, Leaf], start: int, end: int) -> Iterator[str]:
    """Note what the order's times and status mean for the plan."""
    status, starts, review = (leaves[path] for path in ("status", "starts", "review_by"))
    if status.value == "ended":
        yield "The order is marked as ended."
    begun = starts.number
    if begun is not None and begun > start:
        yield (
            f"The order starts only at {quote(starts.text)}, after this plan begins. Nothing is "
            "due before then; checks, bags, shifts and days are counted from there."
        )
    due = review.number
    if due is not None and due < start:
        yield (
            f"The review time, {quote(review.text)}, has passed before this plan begins; all of "
            "it is as if the order were renewed unchanged."
        )
    if due is not None and due > end:
        yield f"The review time, {quote(review.text)}, comes after this plan ends."
    irrigates = leaves["therapy"].value == "irrigation"
    if irrigates and leaves["irrigation.fluid"].value == "sodium chloride 0.9 %":
        yield _SALINE


def begun_before(
    leaves: Mapping[str, Leaf], runs: tuple[Scenario, Scenario | None], start: int
) -> Iterator[str]:
    """Note the consequences of an order that starts before the plan."""
    starts = leaves["starts"]
    begun = starts.number
    if begun is None or begun >= start:
        return
    ordered, earliest = runs
    since = f"the order's start time, {quote(starts.text)}"
    if earliest is not None and earliest.irrigation is not None:
        reached = format_quantity(earliest.irrigation[0].rate, "mL/h")
        yield (
            f"Titration has been allowed since {since}: what is given as early as titration allows "
            f"begins with the highest rate that can be reached by now, {reached}."
        )
    if ordered.irrigation is not None or ordered.output is not None:
        yield (
            f"The plan begins after {since}. Bags, shifts, days and the daily limit are counted "
            "from the start of the plan, not from there: what has run before is not in them, and "
            "a bag that hangs already is over sooner."
        )
