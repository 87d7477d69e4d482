"""The offsets of times beside the clock of their zone, row by row.

The tool's own functions judge one time of each combination of zone and offsets. Never a timetable.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import polars as pl

from orderlint.audit import column_logic as logic
from orderlint.audit.row_faults import FaultKind
from orderlint.audit.texts import PLACE
from orderlint.fields import field_table
from orderlint.local_time import fixed_clock, utc_offset, wall_time, zone_clock
from orderlint.order import CLOCK_PUT_BACK, Leaf, Order, State
from orderlint.utc_offset_check import offset_faults, with_clock_change

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.audit.column_logic import Mask
    from orderlint.audit.rows import OrderRows

_ZONE = "zone"
_HOUR = 3_600_000
_HOURS = 1 << 32  # more than there are in any of our centuries; an hour of a zone has one number
_FIELDS = field_table().fields


Times: TypeAlias = "Mapping[str, pl.DataFrame]"
"""By path of a time for each row its `zone`, by number, the instant that it is `at`, the offset
that it is `written` with and the `ward` has then, in seconds; each is null where it is not known.
"""


class Clocks:
    """The offsets of zones, hour by hour, remembered. A zone is known by its number here."""

    def __init__(self) -> None:
        self._zones: list[str] = []
        self._hours = pl.DataFrame(schema={"hour": pl.Int64, "ward": pl.Int32})

    def offset_faults(self, times: Times) -> Iterator[tuple[FaultKind, Mask]]:
        """Where a time is written with an offset that its zone does not have at that instant."""
        for path, frame in times.items():
            keys = ["zone", "written", "ward"]
            for one in frame.drop_nulls().unique(keys).iter_rows(named=True):
                zone = self._zones[one["zone"]]
                for fault in _faults_at(path, zone, one["at"], one["written"]):
                    same = (pl.col(key) == one[key] for key in keys)
                    yield FaultKind(fault, path), _where(frame, *same)

    def put_back(self, times: Times) -> Mask:
        """Where the clock of the zone is put back an hour between the start and the review."""
        if not {"starts", "review_by"} <= times.keys():
            return False
        frame = times["starts"].select("zone", starts="at", before="ward")
        review = times["review_by"].select(review="at", after="ward")
        frame = frame.hstack(review)
        keys = ["zone", "before", "after"]
        found: Mask = False
        for one in frame.drop_nulls().unique(keys).iter_rows(named=True):
            if _is_put_back(self._zones[one["zone"]], one["starts"], one["review"]):
                same = (pl.col(key) == one[key] for key in keys)
                found = logic.either(found, _where(frame, *same))
        return found

    def times(self, rows: OrderRows) -> Times:
        """The times of rows by path; none where no row has a zone."""
        column = rows.columns.get(_ZONE)
        if column is None:
            return {}
        leaves = (reading.leaf for reading in rows.classes[_ZONE].readings)
        zones = [str(leaf.value) if leaf.known else None for leaf in leaves]
        self._zones += sorted({*filter(None, zones)} - {*self._zones})
        numbers = {zone: number for number, zone in enumerate(self._zones)}
        of_class = [None if zone is None else numbers[zone] for zone in zones]
        of_row = column.spread(pl.Series(of_class, dtype=pl.Int64))
        return {path: self._frame(rows, path, of_row) for path in rows.numbers}

    def _frame(self, rows: OrderRows, path: str, zones: pl.Series) -> pl.DataFrame:
        frame = pl.DataFrame({"zone": zones, "at": rows.numbers[path]}).with_columns(
            hour=pl.col("zone") * _HOURS + pl.col("at") // _HOUR
        )
        self._learn(frame["hour"].unique().drop_nulls())
        frame = frame.join(self._hours, on="hour", how="left", maintain_order="left")
        changing = frame["ward"].is_null() & frame["hour"].is_not_null()
        single = [
            _offset(self._zones[zone], at)
            for zone, at in frame.filter(changing).select("zone", "at").iter_rows()
        ]
        ward = frame["ward"].scatter(changing.arg_true(), single)
        return frame.select("zone", "at", written=rows.offsets[path], ward=ward)

    def _learn(self, hours: pl.Series) -> None:
        """Note the offsets in whole hours of UTC; null in an hour in which one changes.

        INVARIANT: no zone changes its offset twice within an hour.
        """
        new = hours.to_frame("hour").join(self._hours, on="hour", how="anti")["hour"]
        found = []
        for key in new:
            zone, hour = divmod(key + _HOURS // 2, _HOURS)
            start = (hour - _HOURS // 2) * _HOUR
            first, last = (_offset(self._zones[zone], at) for at in (start, start + _HOUR - 1))
            found.append(first if first == last else None)
        self._hours = self._hours.vstack(
            pl.DataFrame({"hour": new, "ward": pl.Series(found, dtype=pl.Int32)})
        )


def _where(frame: pl.DataFrame, *conditions: pl.Expr) -> pl.Series:
    """Where all conditions are true of the rows of a frame."""
    return frame.select(pl.all_horizontal(*conditions).fill_null(value=False)).to_series()


def _offset(zone: str, at: int) -> int:
    return round(utc_offset(zone_clock(zone), at).total_seconds())


def _faults_at(path: str, zone: str, at: int, written: int) -> list[str]:
    """The rules that a time breaks, written with an offset in seconds."""
    local = wall_time(fixed_clock(written), at)
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
