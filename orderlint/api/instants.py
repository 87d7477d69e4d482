"""Converts datetimes of a caller to milliseconds since 1970 UTC.

Only the conversion and its bounds. Never a field.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

from orderlint.fields import field_table

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)


def milliseconds_of(at: datetime, name: str = "at") -> int:
    """Whole milliseconds since 1970 UTC.

    `name` is the parameter that a ValueError names: for a datetime without an offset from UTC, or
    so early or late that no order can be checked then.
    """
    if at.utcoffset() is None:
        raise ValueError(f"{name} is {at.isoformat()}, a datetime without an offset from UTC")
    instant = (at - _EPOCH) // _MILLISECOND
    if not is_conceivable(instant):
        raise ValueError(f"{name} is {at.isoformat()}, at which no order can be checked")
    return instant


def is_conceivable(instant: int) -> bool:
    """Whether an order can be checked at an instant in milliseconds since 1970 UTC."""
    conceivable = field_table().fields["starts"]
    return conceivable.lowest <= instant <= conceivable.highest


def present_instant() -> int:
    """The present second. Raises ValueError where the clock shows no conceivable time."""
    try:
        instant = time.time_ns() // 10**9 * 1000
    except OverflowError:  # nanoseconds end in 2262
        instant = None
    if instant is None or not is_conceivable(instant):
        raise ValueError("the clock of this computer shows a time at which no order can be checked")
    return instant


def instant_or_now(at: datetime | None) -> int:
    """The milliseconds of `at`, or of the present second if it is None."""
    return present_instant() if at is None else milliseconds_of(at)
