"""Converts a written number and unit to a whole number of ticks.

Exact integers and fractions; never a float, never a guessed unit.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.reading.quantity_text import NumberText, split_quantity
from orderlint.unit_spellings import PLAIN_SPELLINGS, SPELLINGS

if TYPE_CHECKING:
    from collections.abc import Mapping
    from fractions import Fraction


# INVARIANT: pressures are compared in ticks of 1e-7 cmH2O. One mmHg (conventional mercury,
# 13.5951 g/mL) is a whole number of them; one cmH2O in mmHg is a recurring decimal.
TICKS: Mapping[str, Mapping[str, int]] = {
    "pressure": {"mmHg": 13_595_100, "cmH2O": 10_000_000},
    "flow": {"mL/h": 1_000, "mL/min": 60_000},
    "volume": {"mL": 1_000, "L": 1_000_000},
    "duration": {"s": 1_000, "min": 60_000, "h": 3_600_000},
    "mass": {"g": 1_000, "kg": 1_000_000},
    "angle": {"deg": 10},
    # A drug is measured by its mass or by its activity, and neither converts to the other.
    "mass concentration": {
        "mcg/L": 100,
        "mg/L": 100_000,
        "g/L": 100_000_000,
        "mcg/mL": 100_000,
        "mg/mL": 100_000_000,
    },
    "activity concentration": {"units/L": 100, "units/mL": 100_000, "million units/L": 100_000_000},
    # INVARIANT: a tick of concentration times a tick of flow is 24 ticks, so that an hour and a
    # day are both whole numbers of them.
    "mass rate": {
        "mcg/day": 100_000_000,
        "mg/day": 100_000_000_000,
        "g/day": 100_000_000_000_000,
        "mcg/h": 2_400_000_000,
        "mg/h": 2_400_000_000_000,
        "g/h": 2_400_000_000_000_000,
    },
    "activity rate": {
        "units/day": 100_000_000,
        "million units/day": 100_000_000_000_000,
        "units/h": 2_400_000_000,
    },
}

SPELLING, SMALL_L = "unit spelling", "unit small l"
"""The flags of a unit: spelled in a way that can be misread; ml, and all else as it should be."""


class Unit(NamedTuple):
    """A known unit: its standard symbol and the dimension that it measures.

    `flag` names unsafe notation, or is None if it was written as the symbol or as one of
    PLAIN_SPELLINGS.
    """

    symbol: str
    dimension: str
    flag: str | None = None


_DIMENSION = {symbol: dimension for dimension, units in TICKS.items() for symbol in units}


_TICKS_OF = {symbol: ticks for units in TICKS.values() for symbol, ticks in units.items()}
_UNITS = {symbol: Unit(symbol, dimension) for symbol, dimension in _DIMENSION.items()}


def dimension_of_unit(symbol: str) -> str:
    """Return what a unit measures. KeyError if it is not in TICKS."""
    return _DIMENSION[symbol]


def ticks_of(symbol: str) -> int:
    """Return the ticks in one of a unit. KeyError if it is not in TICKS."""
    return _TICKS_OF[symbol]


def normalise_unit(text: str) -> str:
    """Convert to lower case with single spaces, and remove spaces around slashes."""
    return _join_slashes(text).casefold()


def _join_slashes(text: str) -> str:
    return re.sub(r"\s*/\s*", "/", " ".join(text.split()))


def find_unit(text: str) -> Unit | None:
    """Return the unit that `text` names, by symbol or accepted spelling; None if unknown."""
    return _UNITS.get(text) or _find_spelt(text)


@functools.lru_cache(maxsize=256)  # few spellings are written, and often
def _find_spelt(text: str) -> Unit | None:
    symbol = SPELLINGS.get(normalise_unit(text))
    return Unit(symbol, _DIMENSION[symbol], _flag(text)) if symbol else None


def _flag(text: str) -> str | None:
    """The flag of an accepted spelling that is not the symbol; None if it is plain."""
    if text in PLAIN_SPELLINGS:
        return None
    with_capital = re.sub(r"\bml(?=s?\b)", "mL", _join_slashes(text))
    is_plain = with_capital in _DIMENSION or with_capital in PLAIN_SPELLINGS
    return SMALL_L if is_plain else SPELLING


def to_ticks(number: NumberText, unit: Unit) -> int | None:
    """Convert `number` of `unit` to ticks; None if the result is not a whole number."""
    scaled = int(number.digits) * ticks_of(unit.symbol)
    divisor: int = 10**number.decimals
    ticks, remainder = divmod(scaled, divisor)
    if remainder:
        return None
    return -ticks if number.negative else ticks


def in_unit(ticks: int | Fraction, symbol: str) -> Fraction:
    """Convert `ticks` to an exact number of the unit `symbol`. KeyError if not in TICKS."""
    from fractions import Fraction  # noqa: PLC0415 - cold start

    return Fraction(ticks) / ticks_of(symbol)


def read_constant(text: str) -> tuple[int, Unit]:
    """Read a quantity of a rule file, schema or site policy: its ticks and its unit.

    Raises ValueError if it is not a plainly written number with a standard unit, or has more
    decimals than ticks can represent.
    """
    split = split_quantity(text)
    if split is None or split.number is None:
        raise ValueError(f"{text!r} is not a plain number with a unit, such as 5 mmHg")
    if split.flags:
        raise ValueError(f"{text!r} is not written plainly: {', '.join(sorted(split.flags))}")
    unit = find_unit(split.unit)
    if unit is None or unit.symbol != split.unit:
        standard = f"; write {unit.symbol}" if unit else f"; known are {', '.join(_DIMENSION)}"
        wrong = f": {split.unit} is not a standard unit" if split.unit else " has no unit"
        raise ValueError(f"{text!r}{wrong}{standard}")
    ticks = to_ticks(split.number, unit)
    if ticks is None:
        raise ValueError(f"{text!r} has more decimals than can be kept exactly in {unit.symbol}")
    return ticks, unit


_INSTANT = re.compile(
    r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,3})?)?(Z|[+-]\d\d:\d\d)?", re.ASCII
)


def has_instant_form(text: str) -> bool:
    """True if the text has the form of a date and time, with or without a UTC offset."""
    return _INSTANT.fullmatch(text) is not None


def has_offset(text: str) -> bool:
    """True if a text that has the form of a date and time ends in its UTC offset."""
    found = _INSTANT.fullmatch(text)
    return found is not None and found[3] is not None


def parse_instant(text: str) -> int | None:
    """Convert an ISO 8601 date and time with an offset to milliseconds since 1970-01-01 UTC.

    None if the text has another form or no offset, or is not a date of the calendar.
    """
    from datetime import UTC, datetime, timedelta  # noqa: PLC0415 - cold start

    if not has_instant_form(text):
        return None
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            return None
        moment = moment.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)
