"""Compares the UTC offsets written in an order with its time zone.

The only place that compares a time with a zone. Never a timetable; finds nothing without a zone.
"""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault
from orderlint.order import CLOCK_PUT_BACK, Leaf, Order
from orderlint.units import has_instant_form

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import datetime


RULE = "offset-not-of-zone"
_KEPT = 1_024
"""The times for which an answer is kept: to reckon one takes as long as ten rules."""


def offset_faults(order: Order) -> Iterator[Fault]:
    """Yield a fault for each time whose offset its zone does not have at that instant."""
    zone = order.leaves["zone"]
    for path in _instants() if zone.known else ():
        leaf = order.leaves[path]
        if isinstance(leaf.value, int) and _differs(str(zone.value), leaf.text, leaf.value):
            yield _fault(str(zone.value), leaf, leaf.value)


@functools.cache
def _instants() -> tuple[str, ...]:
    fields = field_table().fields.items()
    return tuple(path for path, field in fields if field.kind == "instant")


def with_clock_change(leaves: Mapping[str, Leaf]) -> Mapping[str, Leaf]:
    """The leaves of an order, `review_by` flagged if its zone's clock is put back an hour by then.

    From one wall time to the same of the next day it is then 25 h. Without a zone nothing is known.
    """
    zone, starts, review = leaves["zone"], leaves["starts"], leaves["review_by"]
    if not (zone.known and isinstance(starts.value, int) and isinstance(review.value, int)):
        return leaves
    if not _is_put_back(str(zone.value), starts.value, review.value):
        return leaves
    return {**leaves, "review_by": replace(review, flags=review.flags | {CLOCK_PUT_BACK})}


@functools.lru_cache(maxsize=_KEPT)
def _is_put_back(zone: str, starts: int, review: int) -> bool:
    from datetime import timedelta  # noqa: PLC0415 - cold start

    before, after = (_ward(zone, at).utcoffset() for at in (starts, review))
    assert before is not None
    assert after is not None
    return before - after == timedelta(hours=1)


def _ward(zone: str, at: int) -> datetime:
    """What the clocks of a zone show at an instant."""
    from orderlint.local_time import wall_time, zone_clock  # noqa: PLC0415 - cold start

    return wall_time(zone_clock(zone), at)


@functools.lru_cache(maxsize=_KEPT)
def _differs(zone: str, text: str, at: int) -> bool:
    """True if a time is written with a local offset, and not with that of the zone.

    Z names no place: the instant is in UTC, whatever the zone is (RFC 9557 says so of RFC 3339).
    """
    from datetime import datetime  # noqa: PLC0415 - cold start

    text = text.strip()
    if not has_instant_form(text) or text.endswith("Z"):
        return False
    return datetime.fromisoformat(text).utcoffset() != _ward(zone, at).utcoffset()


def _fault(zone: str, leaf: Leaf, at: int) -> Fault:
    from datetime import datetime  # noqa: PLC0415 - cold start

    from orderlint.local_time import format_time, is_valid_local_time, zone_clock  # noqa: PLC0415 - cold start

    assert leaf.place is not None
    written, ward = datetime.fromisoformat(leaf.text.strip()), _ward(zone, at)
    past = (
        ""
        if is_valid_local_time(zone_clock(zone), written)
        else f"; that clock is put forward past {format_time(written)}"
    )
    details = {
        "name": in_sentence(field_table().display_name(leaf.path)),
        "zone": zone,
        "ward": ward.isoformat(timespec="milliseconds" if ward.microsecond else "seconds"),
        "past": past,
    }
    return Fault(RULE, leaf.path, leaf.text, leaf.place, details)
