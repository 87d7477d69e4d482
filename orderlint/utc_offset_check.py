"""Compares the UTC offsets written in an order with its time zone.

The only place that compares a time with a zone. Never a timetable; finds nothing without a zone.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault
from orderlint.order import CLOCK_PUT_BACK
from orderlint.units import has_instant_form

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Leaf, Order

RULE = "offset-not-of-zone"


def offset_faults(order: Order) -> Iterator[Fault]:
    """Yield a fault for each time whose offset its zone does not have at that instant."""
    zone = order.leaves["zone"]
    for path, field in field_table().fields.items() if zone.known else ():
        if field.kind == "instant" and _has_offset(order.leaves[path]):
            yield from _check_offset(str(zone.value), order.leaves[path])


def with_clock_change(leaves: Mapping[str, Leaf]) -> Mapping[str, Leaf]:
    """The leaves of an order, `review_by` flagged if its zone's clock is put back an hour by then.

    From one wall time to the same of the next day it is then 25 h. Without a zone nothing is known.
    """
    zone, starts, review = (leaves[path] for path in ("zone", "starts", "review_by"))
    if not (zone.known and isinstance(starts.value, int) and isinstance(review.value, int)):
        return leaves
    from datetime import timedelta  # noqa: PLC0415 - cold start

    from orderlint.local_time import wall_time, zone_clock  # noqa: PLC0415 - cold start

    clock = zone_clock(str(zone.value))
    assert clock is not None  # INVARIANT: a zone that is known has a clock
    before, after = (wall_time(clock, at).utcoffset() for at in (starts.value, review.value))
    assert before is not None
    assert after is not None
    if before - after != timedelta(hours=1):
        return leaves
    return {**leaves, "review_by": replace(review, flags=review.flags | {CLOCK_PUT_BACK})}


def _has_offset(leaf: Leaf) -> bool:
    """True if a time is written with a local offset.

    Z names no place: the instant is in UTC, whatever the zone is (RFC 9557 says so of RFC 3339).
    """
    text = leaf.text.strip()
    return leaf.known and has_instant_form(text) and not text.endswith("Z")


def _check_offset(zone: str, leaf: Leaf) -> Iterator[Fault]:
    from datetime import datetime  # noqa: PLC0415 - cold start

    from orderlint.local_time import format_time, is_valid_local_time, wall_time, zone_clock  # noqa: PLC0415 - cold start

    clock = zone_clock(zone)
    assert clock is not None  # INVARIANT: a zone that is known has a clock
    assert isinstance(leaf.value, int)  # INVARIANT: a known time has its milliseconds
    assert leaf.place is not None
    written, ward = datetime.fromisoformat(leaf.text.strip()), wall_time(clock, leaf.value)
    if written.utcoffset() == ward.utcoffset():
        return
    past = (
        ""
        if is_valid_local_time(clock, written)
        else f"; that clock is put forward past {format_time(written)}"
    )
    details = {
        "name": in_sentence(field_table().display_name(leaf.path)),
        "zone": zone,
        "ward": ward.isoformat(timespec="milliseconds" if ward.microsecond else "seconds"),
        "past": past,
    }
    yield Fault(RULE, leaf.path, leaf.text, leaf.place, details)
