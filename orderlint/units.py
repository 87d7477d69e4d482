"""A written number and unit as a whole count of ticks, and ticks in words. The only import of pint.

Exact integers and fractions throughout. Never a float, a rounded value or a guessed unit.
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from orderlint.reading.quantity_text import split_quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from fractions import Fraction
    from typing import Any

    from pint import UnitRegistry

    from orderlint.reading.quantity_text import NumberText

# INVARIANT: pressures are compared in ticks of 1e-7 cmH2O. One mmHg (conventional mercury,
# 13.5951 g/mL) is a whole number of them; one cmH2O in mmHg has no end.
TICKS: Mapping[str, Mapping[str, int]] = MappingProxyType(
    {
        "pressure": MappingProxyType({"mmHg": 13_595_100, "cmH2O": 10_000_000}),
        "flow": MappingProxyType({"mL/h": 1_000, "mL/min": 60_000}),
        "volume": MappingProxyType({"mL": 1_000, "L": 1_000_000}),
        "duration": MappingProxyType({"s": 1_000, "min": 60_000, "h": 3_600_000}),
        "mass": MappingProxyType({"g": 1_000, "kg": 1_000_000}),
        "angle": MappingProxyType({"deg": 10}),
    }
)

_WORDS = {
    "mmHg": ("mmhg", "mm hg", "mm[hg]"),
    "cmH2O": ("cmh2o", "cm h2o", "cmh₂o", "cm h₂o", "cm[h2o]"),
    "mL/h": ("ml/h", "ml/hr", "ml/hrs", "ml/hour", "ml per hour", "cc/h", "cc/hr", "cc/hour"),
    "mL/min": ("ml/min", "ml/mins", "ml/minute", "ml per minute", "cc/min", "cc/minute"),
    "mL": ("ml", "mls", "cc", "ccs", "millilitre", "millilitres", "milliliter", "milliliters"),
    "L": ("l", "lit", "ltr", "litre", "litres", "liter", "liters"),
    "s": ("s", "sec", "secs", "second", "seconds"),
    "min": ("min", "mins", "minute", "minutes"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "g": ("g", "gm", "gms", "gram", "grams"),
    "kg": ("kg", "kgs", "kilogram", "kilograms"),
    "deg": ("deg", "degs", "degree", "degrees", "°", "º"),
}

SPELLINGS: Mapping[str, str] = MappingProxyType(
    {spelling: symbol for symbol, spellings in _WORDS.items() for spelling in spellings}
)
"""Every spelling that is understood, in lower case, and the symbol it stands for."""

_DROPS = "how much a drop holds depends on the giving set; write mL/h"
_WATER = "if centimetres of water are meant, write cmH2O"
_MERCURY = "if millimetres of mercury are meant, write mmHg"
_ZERO = (
    "it ends in a zero where cmH2O has the letter O; if centimetres of water are meant, write cmH2O"
)
_DAY = "24 h is a time and no unit; write mL/h for a rate, mL for a volume"

PLAIN = frozenset(
    {
        *("mL/hr", "mL/hour", "mL per hour", "mL/minute", "mL per minute"),
        *("hr", "hour", "hours", "minute", "minutes", "second", "seconds"),
        *("millilitre", "millilitres", "milliliter", "milliliters"),
        *("litre", "litres", "liter", "liters", "gram", "grams", "kilogram", "kilograms"),
        *("degree", "degrees"),
    }
)
"""Of these the ones that are written out or in plain use, which nobody reads as something else."""

HINTS: Mapping[str, str] = MappingProxyType(
    {
        "cm": f"cm alone is a length; {_WATER}",
        "cms": f"cms is a length; {_WATER}",
        "cmh20": _ZERO,
        "cm h20": _ZERO,
        "cm/h2o": f"cm/h2o reads as a length divided by water; {_WATER}",
        "cm water": f"the unit has a symbol of its own; {_WATER}",
        "cm of water": f"the unit has a symbol of its own; {_WATER}",
        "h2o": f"centimetres or millimetres of water is not said; {_WATER}",
        "mmh2o": f"a millimetre of water is a tenth of a cmH2O; {_WATER}",
        "mm": f"mm alone is a length; {_MERCURY}",
        "mm/hg": f"mm/Hg reads as a length divided by mercury; {_MERCURY}",
        "hg": f"centimetres or millimetres of mercury is not said; {_MERCURY}",
        "torr": f"torr is nearly the same as mmHg, but the controller does not show it; {_MERCURY}",
        "gtt": _DROPS,
        "gtts": _DROPS,
        "gtt/min": _DROPS,
        "gtts/min": _DROPS,
        "drops": _DROPS,
        "drops/min": _DROPS,
        "ml/24h": _DAY,
        "ml/24 h": _DAY,
        "ml/24hr": _DAY,
        "l/24h": _DAY,
        "l/24 h": _DAY,
        "ml/kg/h": "nothing here is set by body weight; write mL/h",
        "ml/kg/hr": "nothing here is set by body weight; write mL/h",
        "m": "m may be read as minutes, metres or milli; if minutes are meant, write min",
        "u": "u may be read as 0, 4 or cc; write the unit out",
        "iu": "IU may be read as IV or 10; write the unit out",
        "unit": "the word unit says nothing of what is measured",
        "units": "the word units says nothing of what is measured",
        "%": "a percentage is not a quantity that is set here",
    }
)
"""What is not understood, in lower case, and what to say of it."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit that the tool knows: its standard symbol, what it measures, and whether it was
    written by that symbol or plainly written out."""

    symbol: str
    dimension: str
    standard_spelling: bool = True


_DIMENSION = {symbol: dimension for dimension, units in TICKS.items() for symbol in units}


def _fold(text: str) -> str:
    """Lower case, single spaces, none beside a slash."""
    return re.sub(r"\s*/\s*", "/", " ".join(text.split())).casefold()


def find_unit(text: str) -> Unit | None:
    """The unit written as `text`, by its symbol or an understood spelling of it; else None."""
    if text in _DIMENSION:
        return Unit(text, _DIMENSION[text])
    symbol = SPELLINGS.get(_fold(text))
    return Unit(symbol, _DIMENSION[symbol], standard_spelling=text in PLAIN) if symbol else None


def to_ticks(number: NumberText, unit: Unit) -> int | None:
    """`number` of `unit` in ticks; None if that is not a whole number of them."""
    scaled = int(number.digits) * TICKS[unit.dimension][unit.symbol]
    finest: int = 10**number.decimals
    ticks, left = divmod(scaled, finest)
    if left:
        return None
    return -ticks if number.negative else ticks


def in_unit(ticks: int | Fraction, symbol: str) -> Fraction:
    """`ticks` as an exact number of the unit `symbol`. KeyError for a symbol not in TICKS."""
    from fractions import Fraction  # noqa: PLC0415 - a clean order in one unit never needs it

    return Fraction(ticks) / TICKS[_DIMENSION[symbol]][symbol]


def number_words(
    value: int | Fraction, places: int = 2, beside: Iterable[int | Fraction] = ()
) -> str:
    """`value` in decimals: exact if five places hold it, else to `places`; with "about" if rounded.

    Halves go to the even side. There are more places where the last would be a zero, so that
    22.0006 is not taken for 22, or where it could not be told from a value that stands `beside` it.
    """
    scaled = value * 10**5
    if scaled.denominator == 1:
        return decimal_text(int(scaled), 5)
    others = [other for other in beside if other != value]
    while not _tells(rounded := round(value * 10**places), places, others):
        places += 1
    about = "" if rounded == value * 10**places else "about "
    return f"{about}{decimal_text(rounded, places)}"


def _tells(rounded: int, places: int, others: list[int | Fraction]) -> bool:
    """Whether a number rounded to `places` is rounded to the eye, and none of the others is it."""
    return rounded % 10 != 0 and all(round(other * 10**places) != rounded for other in others)


def decimal_text(count: int, places: int) -> str:
    """`count` / 10**`places` in plain digits: no zero at the end, one before the point."""
    whole, part = divmod(abs(count), 10**places)
    decimals = f"{part:0{places}d}".rstrip("0")
    return f"{'-' if count < 0 else ''}{whole}{'.' if decimals else ''}{decimals}"


def written_number(number: NumberText) -> str:
    """A written number in plain digits, exact: `.50` is "0.5", `1,000` is "1000"."""
    count = int(number.digits)
    return decimal_text(-count if number.negative else count, number.decimals)


def quantity_words(
    ticks: int | Fraction, symbol: str, beside: Iterable[int | Fraction] = ()
) -> str:
    """Number and unit, as in "29.90922 cmH2O" or "about 14.71 mmHg".

    `beside` are other quantities, in ticks, from which it is to be told apart.
    """
    others = (in_unit(other, symbol) for other in beside)
    return f"{number_words(in_unit(ticks, symbol), beside=others)} {symbol}"


def span_words(ticks: int) -> str:
    """A span of time, exactly, in the units that clocks have, as in "24 h 1 s" or "0 min"."""
    parts = []
    left = abs(ticks)
    for symbol in ("h", "min"):
        count, left = divmod(left, TICKS["duration"][symbol])
        parts += [f"{count} {symbol}"] if count else []
    parts += [quantity_words(left, "s")] if left else []
    return f"{'-' if ticks < 0 else ''}{' '.join(parts) or '0 min'}"


def read_constant(text: str) -> tuple[int, Unit]:
    """A quantity in the project's or a site's own files, in ticks and with its unit.

    ValueError if it is not a plain number with a standard unit, plainly written, or if it is
    finer than ticks hold.
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


def looks_like_instant(text: str) -> bool:
    """Whether the text has the form of a date and a time, with an offset from UTC or without."""
    return _INSTANT.fullmatch(text) is not None


def instant_ticks(text: str) -> int | None:
    """Whole milliseconds from 1970-01-01 UTC to an ISO 8601 date and time with an offset.

    None where the text has another form, no offset, or is not on the calendar.
    """
    from datetime import UTC, datetime, timedelta  # noqa: PLC0415 - only where a time is read

    if not looks_like_instant(text):
        return None
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            return None
        moment = moment.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


# What pint converts to, and the units in which the result is shown. Angles are left out: pint
# counts them without a dimension, so that a percentage would pass for one.
_SHOWN = {
    "pressure": ("mmHg", "cmH2O"),
    "flow": ("mL/h",),
    "volume": ("mL",),
    "duration": ("min", "h"),
    "mass": ("kg",),
}

# Some longer or stranger texts keep pint busy for minutes, or come out as arithmetic.
_PLAIN_UNIT = r"[A-Za-zµ]{1,12}(/[A-Za-z]{1,12})?"


def describe_unlisted(number: Fraction, text: str) -> str:
    """What can be said of a unit that `find_unit` does not know: a hint, or what it converts to.

    A sentence without its full stop, or nothing.
    """
    hint = HINTS.get(_fold(text))
    if hint:
        return hint
    if not re.fullmatch(_PLAIN_UNIT, text):
        return ""
    converted = _converted(number, text)
    if converted is None:
        return ""
    dimension, ticks = converted
    shown = " or ".join(quantity_words(ticks, symbol) for symbol in _SHOWN[dimension])
    return f"{text} is a unit of {dimension}: {number_words(number)} {text} would be {shown}"


def _converted(number: Fraction, text: str) -> tuple[str, Fraction] | None:
    """Dimension and ticks of `number` of a unit that pint knows; None if it is none of ours."""
    registry = _registry()
    # ML is a megalitre to pint and a careless mL on a ward: what is understood here goes first.
    parts = "/".join(SPELLINGS.get(_fold(part), part) for part in text.split("/"))
    for dimension, shown in _SHOWN.items():
        symbol = shown[-1]
        try:
            amount = registry.Quantity(number, parts).to(symbol).magnitude
        except Exception:  # pint parses what a stranger wrote, and fails on it in many ways
            continue
        return dimension, amount * TICKS[dimension][symbol]
    return None


@functools.cache
def _registry() -> UnitRegistry[Any]:
    from fractions import Fraction  # noqa: PLC0415 - as above

    from pint import UnitRegistry  # noqa: PLC0415 - slow, and only an unknown unit needs it

    return UnitRegistry(non_int_type=Fraction)
