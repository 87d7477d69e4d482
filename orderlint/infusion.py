"""Rates, bags and volumes over time, exact: milliseconds after the start, ticks, fractions.

Arithmetic on the ordered settings. Never a calendar, a judgement or a float.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterator

MINUTE = 60_000
HOUR = 60 * MINUTE
SHIFT = 8 * HOUR
DAY = 24 * HOUR

NOTICE = Fraction(4, 5)
"""The fraction of a bag after which staff are told. Source: common practice, no published source.
"""


@dataclass(frozen=True, slots=True)
class RateStep:
    """A rate in ticks of flow that holds from `at` milliseconds after the start.

    Raises ValueError for a negative rate or time. INVARIANT: nothing flows backwards, so volume
    never decreases and each bag ends after it was hung.
    """

    at: int
    rate: int

    def __post_init__(self) -> None:
        if self.rate < 0 or self.at < 0:
            raise ValueError("no rate and no time is below zero")


RateProfile: TypeAlias = "tuple[RateStep, ...]"
"""The rate over time: the first step is at 0, steps are in time order."""


@dataclass(frozen=True, slots=True)
class Bag:
    """One bag, in milliseconds after the start. `number` counts from 1.

    `notice` is when NOTICE of it is used, None if it is changed before that. `over` is when it is
    changed, None if never. `empties` is true if it is then empty (a collection bag: full), false if
    its change interval has elapsed.
    """

    number: int
    hung: Fraction
    notice: Fraction | None
    over: Fraction | None
    empties: bool


def constant_rate(rate: int) -> RateProfile:
    """Make a profile of one constant rate."""
    return (RateStep(0, rate),)


def titrated_rate(  # noqa: PLR0913, PLR0917 - one parameter a setting, and how long it has held
    rate: int, step: int, every: int, most: int, until: int, running: int = 0
) -> RateProfile:
    """Raise the rate by `step` every `every` milliseconds, as early as possible, up to `most`.

    `running` is how long it has run at the start; steps due until then, and at the start itself,
    have been taken. Only whole steps are taken, none later than `until`. Raises ValueError unless
    `step` and `every` are positive and `running` is not negative.
    """
    if step <= 0 or every <= 0 or running < 0:
        raise ValueError("a titration has a step and an interval above zero")
    taken, into = divmod(running, every)
    top = highest_rate(rate, step, most)
    steps = [RateStep(0, min(rate + taken * step, top))]
    due = every - into
    while steps[-1].rate < top and due <= until:
        steps.append(RateStep(due, steps[-1].rate + step))
        due += every
    return tuple(steps)


def highest_rate(rate: int, step: int, most: int) -> int:
    """Return the highest rate up to `most` that whole steps reach; `rate` if none fits.

    A smaller last step is not ordered, so nobody may take it. `step` is positive.
    """
    return rate + max(most - rate, 0) // step * step


def add_flow(course: RateProfile, flow: int) -> RateProfile:
    """Add `flow` to every rate, as CSF formation is added to irrigation."""
    return tuple(RateStep(step.at, step.rate + flow) for step in course)


def volume_run(course: RateProfile, start: Fraction | int, end: Fraction | int) -> Fraction:
    """Return the ticks of volume that run between two times."""
    ran = sum(rate * (until - since) for since, until, rate in _rate_intervals(course, start, end))
    # INVARIANT: a tick of volume is a thousandth of a mL, a tick of flow that in an hour.
    return Fraction(ran) / HOUR


def _rate_intervals(
    course: RateProfile, start: Fraction | int, end: Fraction | int
) -> Iterator[tuple[Fraction | int, Fraction | int, int]]:
    ends = [step.at for step in course[1:]] + [end]
    for step, until in zip(course, ends, strict=True):
        since, until = max(step.at, start), min(until, end)  # noqa: PLW2901 - cut to what is asked
        if since < until:
            yield since, until, step.rate


def time_to_volume(
    course: RateProfile, amount: Fraction | int, since: Fraction | int = 0
) -> Fraction | None:
    """Return when `amount` ticks of volume have run since `since`; None if never.

    Raises ValueError for a negative amount or time.
    """
    if amount < 0 or since < 0:
        raise ValueError("no volume and no time is below zero")
    left, start = Fraction(amount) * HOUR, Fraction(since)
    if not left:
        return start
    first = bisect_right(course, since, key=lambda step: step.at) - 1
    for index in range(first, len(course) - 1):
        rate, end = course[index].rate, course[index + 1].at
        if rate * (end - start) >= left:
            return start + left / rate
        left -= rate * (end - start)
        start = Fraction(end)
    last = course[-1].rate
    return start + left / last if last else None


def hang_bags(
    course: RateProfile, size: int, change_every: int | None, until: int
) -> tuple[Bag, ...]:
    """Return each bag hung up to and including `until`: a full one at 0, each next when one ends.

    A bag hung exactly at `until` is included: it must be at hand by then.

    `size` is in ticks of volume. A bag ends when it is empty or `change_every` milliseconds after
    it was hung, whichever is earlier. Raises ValueError unless both are positive.
    """
    if size <= 0 or (change_every is not None and change_every <= 0):
        raise ValueError("a bag has a volume and a change interval above zero")
    found: list[Bag] = []
    hung: Fraction | None = Fraction(0)
    while hung is not None and hung <= until:
        found.append(_bag(len(found) + 1, hung, course, size, change_every))
        hung = found[-1].over
    return tuple(found)


def _bag(
    number: int, hung: Fraction, course: RateProfile, size: int, change_every: int | None
) -> Bag:
    empty = time_to_volume(course, size, hung)
    due = None if change_every is None else hung + change_every
    empties = empty is not None and (due is None or empty <= due)
    over = empty if empties else due
    notice = time_to_volume(course, size * NOTICE, hung)
    told = notice is not None and (over is None or notice < over)
    return Bag(number, hung, notice if told else None, over, empties)


def split_into(length: int, until: int) -> tuple[tuple[int, int], ...]:
    """Return shifts or days of `length` from 0 on; the last ends at `until` and may be shorter."""
    return tuple((start, min(start + length, until)) for start in range(0, until, length))


def daily_limit_times(course: RateProfile, limit: int, until: int) -> tuple[Fraction, ...]:
    """Return when `limit` ticks of volume have run, for each day in which that happens.

    A day that ends exactly when the limit is reached does not count.
    """
    times = (
        (time_to_volume(course, limit, start), min(start + DAY, until))
        for start, _ in split_into(DAY, until)
    )
    return tuple(time for time, end in times if time is not None and time < end)
