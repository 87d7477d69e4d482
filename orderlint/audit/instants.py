"""Reads many times at once: the day of each by the tool's own reader, the time of day added.

A time in its plainest form is the beginning of its day at its offset, and so many seconds more.
Whatever is written otherwise, or stands in a day that cannot be read as a whole, is read by itself.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import polars as pl

from orderlint.audit.texts import read_cell
from orderlint.units import has_instant_form

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.audit.text_classes import TextClasses

_PLAIN = (
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T(?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]"
    r"(?:Z|[+-][0-9]{2}:[0-9]{2})$"
)
_DAY, _TIME = len("2026-03-02"), len("T14:10:00")
_FIRST, _LAST, _DAY_LASTS = "T00:00:00", "T23:59:59", 86_399_000
_COLUMNS = {"class": pl.UInt32, "number": pl.Int64, "offset": pl.Int32}


class InstantReader:
    """Reads the texts of one path that holds a time; days are remembered."""

    def __init__(self, classes: TextClasses) -> None:
        self.classes = classes
        self._days: dict[tuple[str, str], tuple[int, int | None, int | None] | None] = {}

    def read(self, texts: pl.Series) -> pl.DataFrame:
        """For each of different texts its class, the number of its milliseconds since 1970 UTC, and
        the offset that it is written with in seconds; the last two are null unless it is a time,
        and with Z there is no offset.
        """
        every = pl.DataFrame({"text": texts, "n": pl.int_range(len(texts), eager=True)})
        plain = every.filter(pl.col("text").str.contains(_PLAIN)).select(
            "n",
            day=pl.col("text").str.slice(0, _DAY),
            zone=pl.col("text").str.slice(_DAY + _TIME),
            past=_past(),
        )
        quick = plain.join(self._read_days(plain), on=["day", "zone"]).with_columns(
            number=pl.col("number") + pl.col("past")
        )
        others = every.join(quick, on="n", how="anti")
        slow = others.with_columns(self._each(others["text"]))
        columns = ["n", *_COLUMNS]
        return pl.concat([quick.select(columns), slow.select(columns)]).sort("n")

    def _read_days(self, plain: pl.DataFrame) -> pl.DataFrame:
        """The days that can be read as a whole, each with the reading of its first second."""
        days = plain.select("day", "zone").unique().rows()
        for key in days:
            if key not in self._days:
                self._days[key] = self._whole_day(*key)
        found = ((*key, *read) for key in days if (read := self._days[key]) is not None)
        return pl.DataFrame(
            [*found], schema={"day": pl.String, "zone": pl.String, **_COLUMNS}, orient="row"
        )

    def _whole_day(self, day: str, zone: str) -> tuple[int, int | None, int | None] | None:
        first, last = (self._one(day + time + zone) for time in (_FIRST, _LAST))
        if first[1] is None or last[1] is None or last[1] - first[1] != _DAY_LASTS:
            return None
        return first

    def _each(self, texts: Iterable[str]) -> pl.DataFrame:
        return pl.DataFrame([*map(self._one, texts)], schema=_COLUMNS, orient="row")

    def _one(self, text: str) -> tuple[int, int | None, int | None]:
        reading = read_cell(self.classes.path, text)
        value = reading.leaf.value
        number = value if isinstance(value, int) else None
        offset = None if number is None else _written_offset(text.strip())
        return self.classes.add(reading), number, offset


def _past() -> pl.Expr:
    """The milliseconds since the beginning of the day."""
    hour, minute, second = (
        pl.col("text").str.slice(_DAY + start, 2).cast(pl.Int64) for start in (1, 4, 7)
    )
    return ((hour * 60 + minute) * 60 + second) * 1_000


def _written_offset(text: str) -> int | None:
    """The offset from UTC, in seconds, of a time; None where it is written with Z."""
    if text.endswith("Z") or not has_instant_form(text):
        return None
    offset = datetime.fromisoformat(text).utcoffset()
    return None if offset is None else round(offset.total_seconds())
