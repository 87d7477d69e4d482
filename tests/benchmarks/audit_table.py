"""A made-up table of past orders, a column a setting, and a dozen rules of it written by hand.

The rows are the clean order with other settings, times and texts; a seed decides them. By hand
means polars expressions that hold for this table alone: whole numbers, no gap, one spelling a unit.
"""

from __future__ import annotations

import functools
import random
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import core_yaml
import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

CLEAN = Path(__file__).resolve().parents[2] / "examples/clean.yaml"
FIRST = datetime.fromisoformat("2025-01-01T00:00:00-06:00")
ZONE = "America/Chicago"
MINUTES = 365 * 24 * 60
LATER = {"written": (0, 1), "starts": (1, 600), "review_by": (300, 2880)}
"""By the path of a time, how many minutes it may be after that of the row."""
UNITS = {"mmHg": 13_595_100, "cmH2O": 10_000_000, "mL/h": 1}
"""What one of a unit is among those of its dimension, exactly."""
NUMBERS = {
    "pause.lower": (range(-2, 6), ("mmHg",)),
    "pause.upper": (range(4, 30), ("mmHg",)),
    "treat_above": (range(2, 24), ("mmHg",)),
    "drainage.height": (range(26), ("mmHg", "cmH2O")),
    "notify.icp_above": (range(10, 30), ("mmHg",)),
    "notify.icp_below": (range(-1, 12), ("mmHg",)),
    "irrigation.rate": (range(5, 120, 5), ("mL/h",)),
    "titration.max": (range(40, 180, 10), ("mL/h",)),
    "drainage.hourly_max": (range(60, 260, 20), ("mL/h",)),
}
THERAPIES = ("irrigation", "irrigation", "irrigation", "drainage")
PHRASES = ("call before any change of the drain height", "keep the head of the bed up", "see plan")
OF_THEIR_OWN = 0.15
"""The share of rows whose instructions no other row has."""


def table(rows: int, seed: int = 1) -> pl.DataFrame:
    """So many orders as text columns, named by their paths."""
    drawn = random.Random(seed)
    columns: dict[str, Any] = {path: [text] * rows for path, text in _leaves(CLEAN)}
    for path, (numbers, units) in NUMBERS.items():
        texts = [f"{number} {unit}" for number in numbers for unit in units]
        columns[path] = drawn.choices(texts, k=rows)
    columns["therapy"] = drawn.choices(THERAPIES, k=rows)
    columns["id"] = [f"demo-{number}" for number in range(rows)]
    minutes = [drawn.randrange(MINUTES) for _ in range(rows)]
    for path, (least, most) in LATER.items():
        columns[path] = _times(minute + drawn.randrange(least, most) for minute in minutes)
    columns["instructions"] = [
        f"{phrase}, bed {number}" if drawn.random() < OF_THEIR_OWN else phrase
        for number, phrase in enumerate(drawn.choices(PHRASES, k=rows))
    ]
    return pl.DataFrame(columns)


@functools.cache
def _leaves(path: Path) -> tuple[tuple[str, str], ...]:
    document = core_yaml.load_file(path)
    return tuple(
        _below({key: document[key] for key in document if key not in {"document", "format"}})
    )


def _below(section: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, str]]:
    for key, value in section.items():
        if isinstance(value, dict):
            yield from _below(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", str(value)


def _times(minutes: Iterable[int]) -> pl.Series:
    """Times as they are written in the zone of the clean order, from minutes after the first."""
    start = pl.lit(FIRST).dt.convert_time_zone(ZONE)
    at = start + pl.duration(minutes=pl.Series(minutes))
    return pl.select(at.dt.strftime("%Y-%m-%dT%H:%M:%S%:z")).to_series()


def parsed() -> list[pl.Expr]:
    """The columns of `table` as whole numbers and times."""
    numbers = [
        pl.col(path).str.extract(r"^(-?\d+) ", 1).cast(pl.Int64)
        * pl.col(path).str.extract(r" (\S+)$", 1).replace_strict(UNITS, return_dtype=pl.Int64)
        for path in NUMBERS
    ]
    times = [
        pl.col(path).str.to_datetime("%Y-%m-%dT%H:%M:%S%z", time_zone="UTC")
        for path in ("starts", "review_by")
    ]
    return [
        *(each.alias(path) for each, path in zip(numbers, NUMBERS, strict=True)),
        *times,
        pl.col("therapy"),
    ]


def broken() -> dict[str, pl.Expr]:
    """By rule, the rows that break it, of parsed columns."""
    lower, upper, treat = (pl.col(p) for p in ("pause.lower", "pause.upper", "treat_above"))
    high, low, height = (
        pl.col(p) for p in ("notify.icp_above", "notify.icp_below", "drainage.height")
    )
    rate, most, output = (
        pl.col(p) for p in ("irrigation.rate", "titration.max", "drainage.hourly_max")
    )
    irrigates = pl.col("therapy") == "irrigation"
    return {
        "pause-limits-reversed": lower >= upper,
        "treat-above-over-upper-pause": irrigates & (treat >= upper),
        "treat-above-under-lower-pause": treat < lower,
        "drain-above-treat-above": irrigates & (height > treat),
        "drain-above-upper-pause": irrigates & (height >= upper),
        "drain-under-lower-pause": height < lower,
        "notify-icp-over-upper-pause": high > upper,
        "notify-icp-under-treat-above": irrigates & (high <= treat),
        "notify-levels-reversed": low >= high,
        "titration-maximum-under-rate": irrigates & (most < rate),
        "titration-over-output-limit": irrigates & (most >= output),
        "review-before-start": pl.col("review_by") <= pl.col("starts"),
    }


def counted(frame: pl.DataFrame | pl.LazyFrame) -> dict[str, int]:
    """How many rows break each rule, of parsed columns."""
    sums = frame.lazy().select(where.sum().alias(rule) for rule, where in broken().items())
    return sums.collect().row(0, named=True)
