"""Words for quantities: ticks as text, and what an unlisted unit would be in the listed ones.

The only import of pint. Exact fractions; rounds only what it calls "about", never into a limit.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, Any, TypeAlias

from orderlint.unit_spellings import HINTS, NO_OTHER_UNITS, OTHER_UNITS, SPELLINGS
from orderlint.units import TICKS, dimension_of_unit, in_unit, normalise_unit, ticks_of

if TYPE_CHECKING:
    from collections.abc import Iterable
    from fractions import Fraction

    from pint import UnitRegistry

    from orderlint.reading.quantity_text import NumberText


def drug_unit(ticks: int | Fraction, dimension: str, time: str) -> str:
    """Return the unit in which an amount of a drug by `time`, "h" or "day", is easily read.

    A mass is shown in mg, as doses are published, and below 0.1 mg in mcg.
    """
    if dimension == "activity rate":
        return f"units/{time}"
    return f"mg/{time}" if 10 * ticks >= ticks_of(f"mg/{time}") else f"mcg/{time}"


def format_number(value: int | Fraction) -> str:
    """Format `value` as a decimal: exact if it fits in five places, else "about" and rounded.

    Rounds half to even, to at least two places. Adds places until the last digit is not zero, so
    that 22.0006 does not look like 22.
    """
    scaled = value * 10**5
    if scaled.denominator == 1:
        return format_decimal(int(scaled), 5)
    places = 2
    while not (rounded := round(value * 10**places)) % 10:
        places += 1
    about = "" if rounded == value * 10**places else "about "
    return f"{about}{format_decimal(rounded, places)}"


def format_decimal(count: int, places: int) -> str:
    """Format `count` / 10**`places`: no trailing zeros, and a zero before a leading point."""
    whole, part = divmod(abs(count), 10**places)
    decimals = f"{part:0{places}d}".rstrip("0")
    return f"{'-' if count < 0 else ''}{whole}{'.' if decimals else ''}{decimals}"


def format_written_number(number: NumberText) -> str:
    """Format a written number exactly, in plain digits: `.50` is "0.5", `1,000` is "1000"."""
    count = int(number.digits)
    return format_decimal(-count if number.negative else count, number.decimals)


def format_quantity(ticks: int | Fraction, symbol: str) -> str:
    """Format ticks with a unit, as in "29.90922 cmH2O" or "about 14.71 mmHg"."""
    return f"{format_number(in_unit(ticks, symbol))} {symbol}"


def format_exactly(ticks: int, symbol: str) -> str:
    """Format ticks with a unit, as in "8.1570601 cmH2O", with all the digits that it has.

    What cannot be written so, and so never was, is a fraction.
    """
    value = in_unit(ticks, symbol)
    places = next((n for n in range(_MOST_PLACES) if (value * 10**n).denominator == 1), None)
    number = str(value) if places is None else format_decimal(int(value * 10**places), places)
    return f"{number} {symbol}"


_MOST_PLACES = 20


def format_instant(at: int) -> str:
    """An instant, in milliseconds since 1970 UTC, as ISO 8601 in UTC. Any integer will do."""
    import time  # noqa: PLC0415 - cold start

    moment = time.gmtime(at // 1000)
    part = f".{at % 1000:03d}" if at % 1000 else ""
    date = f"{moment.tm_year:04d}-{moment.tm_mon:02d}-{moment.tm_mday:02d}"
    return f"{date}T{moment.tm_hour:02d}:{moment.tm_min:02d}:{moment.tm_sec:02d}{part}Z"


def group_digits(text: str) -> str:
    """Set commas between the thousands of a number from 1,000 up, as ISMP asks for in doses."""
    return re.sub(r"(?<![\d.])\d{4,}", lambda found: f"{int(found[0]):,}", text)


def display_number(value: int | Fraction, others: Iterable[int | Fraction] = ()) -> str:
    """Format `value` with no more digits than a display shows: one decimal if it needs over two.

    Rounds half to even. Adds places until the result differs from every rounded value of `others`
    and from a whole number, so that 22.0006 does not look like a limit of 22.
    """
    return _displayed(_ratio(value), map(_ratio, others))[1]


def display_quantity(
    ticks: int | Fraction, symbol: str, others: Iterable[int | Fraction] = ()
) -> str:
    """Format ticks with a unit for a sentence, as in "8 mmHg" or, rounded, "about 10.9 cmH2O".

    `others` are quantities in ticks from which the result must look different if it is rounded.
    """
    one = ticks_of(symbol)
    is_exact, shown = _displayed(_ratio(ticks, one), (_ratio(other, one) for other in others))
    return f"{'' if is_exact else 'about '}{shown} {symbol}"


# A numerator and a denominator, not reduced: each sentence has some of them, and making a Fraction
# takes longer than all that is done with it here.
_Ratio: TypeAlias = tuple[int, int]


def _ratio(value: int | Fraction, divisor: int = 1) -> _Ratio:
    return value.numerator, value.denominator * divisor


def _displayed(value: _Ratio, others: Iterable[_Ratio]) -> tuple[bool, str]:
    """Whether a number is shown exactly, and the number as a display shows it."""
    over, under = value
    hundreds, rest = divmod(over * 100, under)
    if not rest:
        return True, format_decimal(hundreds, 2)
    different = [(o, u) for o, u in others if o * under != over * u]
    different.append((_round(value, 0), 1))
    places = 1
    while (rounded := _round(value, places)) in {_round(other, places) for other in different}:
        places += 1
    return False, format_decimal(rounded, places)


def _round(value: _Ratio, places: int) -> int:
    """The number times 10**`places`, rounded half to even."""
    over, under = value
    scale: int = 10**places
    whole, rest = divmod(over * scale, under)
    return whole + (2 * rest > under or (2 * rest == under and whole % 2))


def format_duration(ticks: int) -> str:
    """Format a duration exactly in hours, minutes and seconds, as in "24 h 1 s" or "0 min"."""
    parts = []
    remaining = abs(ticks)
    for symbol in ("h", "min"):
        count, remaining = divmod(remaining, TICKS["duration"][symbol])
        parts += [f"{count} {symbol}"] if count else []
    parts += [format_quantity(remaining, "s")] if remaining else []
    return f"{'-' if ticks < 0 else ''}{' '.join(parts) or '0 min'}"


# Dimensions that pint may convert to, and the units in which the result is shown. Angles are
# excluded: pint treats them as dimensionless, so a percentage would convert to one.
_DISPLAY_UNITS = {
    "pressure": ("mmHg", "cmH2O"),
    "flow": ("mL/h",),
    "volume": ("mL",),
    "duration": ("min", "h"),
    "mass": ("kg",),
    "mass concentration": ("mg/L",),
    "mass rate": ("mg/day",),
}


# pint takes minutes to parse some longer texts, and evaluates others as arithmetic.
_PLAIN_UNIT = r"[A-Za-zµ]{1,12}(/[A-Za-z]{1,12})?"


def explain_unknown_unit(number: Fraction, text: str) -> str:
    """Explain a unit that `find_unit` does not know: return a hint, or what it converts to.

    The result is a sentence without its full stop, or an empty string.
    """
    hint = HINTS.get(normalise_unit(text))
    if hint:
        return hint
    if text in NO_OTHER_UNITS or not re.fullmatch(_PLAIN_UNIT, text):
        return ""
    converted = _listed(number, text) or _converted(number, text)
    if converted is None:
        return ""
    dimension, ticks = converted
    shown = " or ".join(format_quantity(ticks, symbol) for symbol in _DISPLAY_UNITS[dimension])
    return f"{text} is a unit of {dimension}: {format_number(number)} {text} would be {shown}"


def _listed(number: Fraction, text: str) -> tuple[str, Fraction] | None:
    """The same of a unit that is likely to be written, for which pint takes a second to load."""
    if text not in OTHER_UNITS:
        return None
    from fractions import Fraction  # noqa: PLC0415 - cold start

    count, symbol = OTHER_UNITS[text]
    return dimension_of_unit(symbol), number * Fraction(count) * ticks_of(symbol)


def _converted(number: Fraction, text: str) -> tuple[str, Fraction] | None:
    """Convert `number` of a unit with pint to dimension and ticks, or None."""
    registry = _registry()
    # pint reads ML as megalitre, a ward means mL: our spellings take precedence.
    parts = "/".join(SPELLINGS.get(normalise_unit(part), part) for part in text.split("/"))
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
