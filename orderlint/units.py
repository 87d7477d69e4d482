"""Converts a written number and unit to a whole number of ticks, and ticks to text.

The only import of pint. Exact integers and fractions; never a float, never a guessed unit.
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
# 13.5951 g/mL) is a whole number of them; one cmH2O in mmHg is a recurring decimal.
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
"""Accepted spelling in lower case → unit symbol."""

_DROPS = "how much a drop holds depends on the giving set; write mL/h"
_WATER = "if centimetres of water are meant, write cmH2O"
_MERCURY = "if millimetres of mercury are meant, write mmHg"
_ZERO = (
    "it ends in a zero where cmH2O has the letter O; if centimetres of water are meant, write cmH2O"
)
_DAY = "24 h is a time and no unit; write mL/h for a rate, mL for a volume"

PLAIN_SPELLINGS = frozenset(
    {
        *("mL/hr", "mL/hour", "mL per hour", "mL/minute", "mL per minute"),
        *("hr", "hour", "hours", "minute", "minutes", "second", "seconds"),
        *("millilitre", "millilitres", "milliliter", "milliliters"),
        *("litre", "litres", "liter", "liters", "gram", "grams", "kilogram", "kilograms"),
        *("degree", "degrees", "°"),
        *("mL/hrs", "mL/mins", "mLs", "hrs", "mins", "sec", "secs", "kgs", "degs"),
        *("mm Hg", "cm H2O", "cmH₂O", "cm H₂O", "mmhg", "cmh2o"),
    }
)
"""Spellings that cannot be misread; any other non-standard spelling is flagged."""

SPELLING, SMALL_L = "unit spelling", "unit small l"
"""The flags of a unit: spelled in a way that can be misread; ml, and all else as it should be."""

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
"""Refused unit in lower case → explanation or advice."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A known unit: its standard symbol and the dimension that it measures.

    `flag` names unsafe notation, or is None if it was written as the symbol or as one of
    PLAIN_SPELLINGS.
    """

    symbol: str
    dimension: str
    flag: str | None = None


_DIMENSION = {symbol: dimension for dimension, units in TICKS.items() for symbol in units}


def _normalise_unit(text: str) -> str:
    """Convert to lower case with single spaces, and remove spaces around slashes."""
    return _join_slashes(text).casefold()


def _join_slashes(text: str) -> str:
    return re.sub(r"\s*/\s*", "/", " ".join(text.split()))


def find_unit(text: str) -> Unit | None:
    """Return the unit that `text` names, by symbol or accepted spelling; None if unknown."""
    if text in _DIMENSION:
        return Unit(text, _DIMENSION[text])
    symbol = SPELLINGS.get(_normalise_unit(text))
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
    scaled = int(number.digits) * TICKS[unit.dimension][unit.symbol]
    divisor: int = 10**number.decimals
    ticks, remainder = divmod(scaled, divisor)
    if remainder:
        return None
    return -ticks if number.negative else ticks


def in_unit(ticks: int | Fraction, symbol: str) -> Fraction:
    """Convert `ticks` to an exact number of the unit `symbol`. KeyError if not in TICKS."""
    from fractions import Fraction  # noqa: PLC0415 - cold start

    return Fraction(ticks) / TICKS[_DIMENSION[symbol]][symbol]


def format_number(
    value: int | Fraction, places: int = 2, others: Iterable[int | Fraction] = ()
) -> str:
    """Format `value` as a decimal: exact if it fits in five places, else "about" and rounded.

    Rounds half to even, to at least `places` places. Adds places until the last digit is not zero
    (so that 22.0006 does not look like 22) and the result differs from every rounded value of
    `others`.
    """
    scaled = value * 10**5
    if scaled.denominator == 1:
        return format_decimal(int(scaled), 5)
    different = [other for other in others if other != value]
    while not _is_distinct(rounded := round(value * 10**places), places, different):
        places += 1
    about = "" if rounded == value * 10**places else "about "
    return f"{about}{format_decimal(rounded, places)}"


def _is_distinct(rounded: int, places: int, others: list[int | Fraction]) -> bool:
    """True if the rounded number keeps its last digit and differs from every rounded neighbour."""
    return rounded % 10 != 0 and all(round(other * 10**places) != rounded for other in others)


def format_decimal(count: int, places: int) -> str:
    """Format `count` / 10**`places`: no trailing zeros, and a zero before a leading point."""
    whole, part = divmod(abs(count), 10**places)
    decimals = f"{part:0{places}d}".rstrip("0")
    return f"{'-' if count < 0 else ''}{whole}{'.' if decimals else ''}{decimals}"


def format_written_number(number: NumberText) -> str:
    """Format a written number exactly, in plain digits: `.50` is "0.5", `1,000` is "1000"."""
    count = int(number.digits)
    return format_decimal(-count if number.negative else count, number.decimals)


def format_quantity(
    ticks: int | Fraction, symbol: str, others: Iterable[int | Fraction] = ()
) -> str:
    """Format ticks with a unit, as in "29.90922 cmH2O" or "about 14.71 mmHg".

    `others` are quantities in ticks from which the result must look different if it is rounded.
    """
    converted = (in_unit(other, symbol) for other in others)
    return f"{format_number(in_unit(ticks, symbol), others=converted)} {symbol}"


def display_number(value: int | Fraction, others: Iterable[int | Fraction] = ()) -> str:
    """Format `value` with no more digits than a display shows: one decimal if it needs over two.

    Rounds half to even. Adds places until the result differs from every rounded value of `others`
    and from a whole number, so that 22.0006 does not look like a limit of 22.
    """
    if (value * 100).denominator == 1:
        return format_number(value)
    different = [*(other for other in others if other != value), round(value)]
    places = 1
    while any(round(other * 10**places) == round(value * 10**places) for other in different):
        places += 1
    return format_decimal(round(value * 10**places), places)


def display_quantity(
    ticks: int | Fraction, symbol: str, others: Iterable[int | Fraction] = ()
) -> str:
    """Format ticks with a unit for a sentence, as in "8 mmHg" or, rounded, "about 10.9 cmH2O".

    `others` are quantities in ticks from which the result must look different if it is rounded.
    """
    value = in_unit(ticks, symbol)
    shown = display_number(value, (in_unit(other, symbol) for other in others))
    about = "" if (value * 100).denominator == 1 else "about "
    return f"{about}{shown} {symbol}"


def format_duration(ticks: int) -> str:
    """Format a duration exactly in hours, minutes and seconds, as in "24 h 1 s" or "0 min"."""
    parts = []
    remaining = abs(ticks)
    for symbol in ("h", "min"):
        count, remaining = divmod(remaining, TICKS["duration"][symbol])
        parts += [f"{count} {symbol}"] if count else []
    parts += [format_quantity(remaining, "s")] if remaining else []
    return f"{'-' if ticks < 0 else ''}{' '.join(parts) or '0 min'}"


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


# Dimensions that pint may convert to, and the units in which the result is shown. Angles are
# excluded: pint treats them as dimensionless, so a percentage would convert to one.
_DISPLAY_UNITS = {
    "pressure": ("mmHg", "cmH2O"),
    "flow": ("mL/h",),
    "volume": ("mL",),
    "duration": ("min", "h"),
    "mass": ("kg",),
}

# pint takes minutes to parse some longer texts, and evaluates others as arithmetic.
_PLAIN_UNIT = r"[A-Za-zµ]{1,12}(/[A-Za-z]{1,12})?"


def explain_unknown_unit(number: Fraction, text: str) -> str:
    """Explain a unit that `find_unit` does not know: return a hint, or what it converts to.

    The result is a sentence without its full stop, or an empty string.
    """
    hint = HINTS.get(_normalise_unit(text))
    if hint:
        return hint
    if not re.fullmatch(_PLAIN_UNIT, text):
        return ""
    converted = _converted(number, text)
    if converted is None:
        return ""
    dimension, ticks = converted
    shown = " or ".join(format_quantity(ticks, symbol) for symbol in _DISPLAY_UNITS[dimension])
    return f"{text} is a unit of {dimension}: {format_number(number)} {text} would be {shown}"


def _converted(number: Fraction, text: str) -> tuple[str, Fraction] | None:
    """Convert `number` of a unit with pint to dimension and ticks, or None."""
    registry = _registry()
    # pint reads ML as megalitre, a ward means mL: our spellings take precedence.
    parts = "/".join(SPELLINGS.get(_normalise_unit(part), part) for part in text.split("/"))
    for dimension, shown in _DISPLAY_UNITS.items():
        symbol = shown[-1]
        try:
            amount = registry.Quantity(number, parts).to(symbol).magnitude
        except Exception:  # pint raises many kinds of error on arbitrary text
            continue
        return dimension, amount * TICKS[dimension][symbol]
    return None


@functools.cache
def _registry() -> UnitRegistry[Any]:
    from fractions import Fraction  # noqa: PLC0415 - cold start

    from pint import UnitRegistry  # noqa: PLC0415 - slow to import; only unknown units need it

    return UnitRegistry(non_int_type=Fraction)
