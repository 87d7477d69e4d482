"""Converts datetimes of a caller to milliseconds since 1970 UTC.

Only the conversion and its bounds. Never a field.
"""

from __future__ import annotations

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
    conceivable = field_table().fields["starts"]
    if not conceivable.lowest <= instant <= conceivable.highest:
        raise ValueError(f"{name} is {at.isoformat()}, at which no order can be checked")
    return instant


def instant_or_now(at: datetime | None) -> int:
    """The same of `at`, or of the present second if it is None."""
    return milliseconds_of(datetime.now(UTC).replace(microsecond=0) if at is None else at)
