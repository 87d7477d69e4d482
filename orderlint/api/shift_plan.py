"""`orderlint.plan`: what is due when under a written order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.api.instants import instant_or_now, milliseconds_of
from orderlint.api.policies import rulebook_for
from orderlint.api.results import Result
from orderlint.api.sources import content_of
from orderlint.api.verification import verify_content
from orderlint.shift_plan import Plan, plan_of

if TYPE_CHECKING:
    from datetime import datetime

    from orderlint.api.documents import Codes
    from orderlint.api.policies import Policy
    from orderlint.api.sources import Source

LONGEST = 168
"""Hours of one plan."""


def plan(  # noqa: PLR0913 - a parameter a fact
    source: Source,
    *,
    start: datetime,
    hours: int = 24,
    name: str | None = None,
    at: datetime | None = None,
    policy: Policy = None,
    concept_map: Codes = None,
) -> Result[Plan]:
    """Plan some hours of an order: a timetable, volumes, bags and figures.

    `start` is when the plan begins, a datetime with an offset from UTC, in 1970 or later; `hours`
    how long it is, from 1 to LONGEST. The other parameters are those of orderlint.verify. Verdict
    and findings are of the order. `render("ics")` of the result is a calendar.

    Raises Refused where the source is no readable order, ValueError for a `start`, `at` or `hours`
    that cannot be.

    >>> from datetime import datetime
    >>> from pathlib import Path
    >>> start = datetime.fromisoformat("2026-03-02T15:00:00-06:00")
    >>> result = plan(Path("examples/clean.yaml"), start=start, hours=12, at=start)
    >>> result.found.events[0].kind
    'icp check'
    """
    instant, begins = instant_or_now(at), milliseconds_of(start, "start")
    offset = start.utcoffset()
    if begins < 0 or offset is None:  # older offsets had seconds, which no calendar shows
        raise ValueError(f"start is {start.isoformat()}; a plan starts in 1970 or later")
    if not 1 <= hours <= LONGEST:
        raise ValueError(f"hours is {hours}; a plan is 1 to {LONGEST} hours long")
    rulebook = rulebook_for("order", policy)
    content = content_of(source, name)
    verified = verify_content(content, instant, rulebook, concept_map)
    seconds = int(offset.total_seconds())
    found = plan_of(verified, begins, hours, seconds, rulebook.values["csf_rate"])
    assessed = verified.assessment
    return Result("plan", assessed.verdict, assessed, found, (content,), instant)
