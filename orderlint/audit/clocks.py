"""The offsets of times beside the clock of their zone, row by row.

The tool's own functions judge one time of each combination of zone and offsets. Never a timetable.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit import masks
from orderlint.audit.row_faults import FaultKind
from orderlint.audit.texts import PLACE
from orderlint.fields import field_table
from orderlint.local_time import wall_time, zone_clock
from orderlint.order import CLOCK_PUT_BACK, Leaf, Order, State
from orderlint.utc_offset_check import offset_faults, with_clock_change

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.audit.masks import Mask
    from orderlint.audit.rows import Rows

_ZONE = "zone"
_HOUR = 3_600_000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_FIELDS = field_table().fields


class Clocks:
    """The offsets of zones, hour by hour, remembered."""

    def __init__(self) -> None:
        self._hours: dict[tuple[str, int], int | None] = {}

    def offset_faults(self, rows: Rows) -> Iterator[tuple[FaultKind, Mask]]:
        """Where a time is written with an offset that its zone does not have at that instant."""
        zones = _zones(rows)
        for path in rows.numbers if zones is not None else ():
            frame = pl.DataFrame(
                {"zone": zones, "at": rows.numbers[path], "written": rows.offsets[path]}
            ).with_row_index()
            frame = self._with_ward(frame.drop_nulls(["zone", "at", "written"]), "at")
            keys = ["zone", "written", "ward"]
            for one in frame.unique(keys).iter_rows(named=True):
                for fault in _faults_at(path, one["zone"], one["at"], one["written"]):
                    same = frame.filter(*(pl.col(key) == one[key] for key in keys))
                    yield FaultKind(fault, path), masks.at_rows(same["index"], rows.count)

    def put_back(self, rows: Rows) -> Mask:
        """Where the clock of the zone is put back an hour between the start and the review."""
        zones, numbers = _zones(rows), rows.numbers
        if zones is None or not {"starts", "review_by"} <= numbers.keys():
            return False
        frame = pl.DataFrame(
            {"zone": zones, "starts": numbers["starts"], "review": numbers["review_by"]}
        ).with_row_index()
        frame = self._with_ward(frame.drop_nulls(), "starts").rename({"ward": "before"})
        frame = self._with_ward(frame, "review").rename({"ward": "after"})
        keys = ["zone", "before", "after"]
        found: Mask = False
        for one in frame.unique(keys).iter_rows(named=True):
            if _is_put_back(one["zone"], one["starts"], one["review"]):
                same = frame.filter(*(pl.col(key) == one[key] for key in keys))
                found = masks.either(found, masks.at_rows(same["index"], rows.count))
        return found

    def _with_ward(self, frame: pl.DataFrame, column: str) -> pl.DataFrame:
        """The frame with the offset of each row's zone at an instant, in seconds, as `ward`."""
        hour = (pl.col(column) // _HOUR).alias("hour")
        frame = frame.with_columns(hour)
        hours = frame.select("zone", "hour").unique()
        offsets = [self._of_hour(*key) for key in hours.iter_rows()]
        known = hours.with_columns(pl.Series("ward", offsets, dtype=pl.Int64))
        frame = frame.join(known, on=["zone", "hour"], how="left", maintain_order="left")
        missing = frame.filter(pl.col("ward").is_null())
        if not missing.is_empty():
            single = [_offset(zone, at) for zone, at in missing.select("zone", column).iter_rows()]
            each = missing.select("index", pl.Series("one", single, dtype=pl.Int64))
            frame = frame.join(each, on="index", how="left", maintain_order="left")
            frame = frame.with_columns(pl.coalesce("ward", "one").alias("ward")).drop("one")
        return frame.drop("hour")

    def _of_hour(self, zone: str, hour: int) -> int | None:
        """The offset of a zone in a whole hour of UTC; None where it changes within.

        INVARIANT: no zone changes its offset twice within an hour.
        """
        key = zone, hour
        if key not in self._hours:
            first, last = (_offset(zone, at) for at in (hour * _HOUR, (hour + 1) * _HOUR - 1))
            self._hours[key] = first if first == last else None
        return self._hours[key]


def _zones(rows: Rows) -> pl.Series | None:
    """The zone of each row, null where there is none; None where no row has one."""
    column = rows.columns.get(_ZONE)
    if column is None:
        return None
    leaves = [reading.leaf for reading in rows.classes[_ZONE].readings]
    return column.spread(pl.Series([leaf.value for leaf in leaves], dtype=pl.String))


def _offset(zone: str, at: int) -> int:
    clock = zone_clock(zone)
    assert clock is not None  # INVARIANT: a zone that is known has a clock
    offset = wall_time(clock, at).utcoffset()
    assert offset is not None
    return round(offset.total_seconds())


def _faults_at(path: str, zone: str, at: int, written: int) -> list[str]:
    """The rules that a time breaks, written with an offset in seconds."""
    moment = _EPOCH + timedelta(milliseconds=at)
    local = moment.astimezone(timezone(timedelta(seconds=written)))
    text = local.isoformat(timespec="milliseconds" if local.microsecond else "seconds")
    leaves = {**_absent(), _ZONE: _known(_ZONE, zone), path: _known(path, at, text)}
    return [fault.rule for fault in offset_faults(Order("", leaves, ()))]


def _is_put_back(zone: str, starts: int, review: int) -> bool:
    leaves = {
        _ZONE: _known(_ZONE, zone),
        "starts": _known("starts", starts),
        "review_by": _known("review_by", review),
    }
    return CLOCK_PUT_BACK in with_clock_change(leaves)["review_by"].flags


def _absent() -> dict[str, Leaf]:
    return {path: Leaf(path) for path, field in _FIELDS.items() if field.kind == "instant"}


def _known(path: str, value: int | str, text: str = "") -> Leaf:
    return Leaf(path, State.KNOWN, value, None, text, place=PLACE)
