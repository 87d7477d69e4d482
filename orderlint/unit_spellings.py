"""Names of units: the spellings that are read, and what is said of those that are not.

Tables of text only. Never a factor between units.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_AMOUNTS = {
    "mcg": ("mcg", "µg", "μg", "ug", "microgram", "micrograms"),
    "mg": ("mg", "milligram", "milligrams"),
    "g": ("g", "gm", "gram", "grams"),
    "units": ("units", "unit", "u", "iu", "international units"),
    "million units": ("million units", "million unit", "million u", "million iu"),
}
_VOLUMES = {"L": ("l", "litre", "liter"), "mL": ("ml", "millilitre", "milliliter")}
_CONCENTRATIONS = {
    f"{amount}/{volume}": tuple(
        f"{numerator}{joint}{denominator}"
        for numerator in numerators
        for denominator in denominators
        for joint in ("/", " per ")
    )
    for amount, numerators in _AMOUNTS.items()
    for volume, denominators in _VOLUMES.items()
    if (amount, volume) not in {("g", "mL"), ("million units", "mL")}
}
_RATES = (
    *("mcg/day", "mg/day", "g/day", "mcg/h", "mg/h", "g/h"),
    *("units/day", "million units/day", "units/h"),
)

_WORDS = {
    "mmHg": ("mmhg", "mm hg", "mm[hg]"),
    "cmH2O": ("cmh2o", "cm h2o", "cmh₂o", "cm h₂o", "cm[h2o]"),
    "mL/h": (
        "ml/h",
        "ml/hr",
        "ml/hrs",
        "ml/hour",
        "ml per hour",
        "mls/h",
        "mls/hr",
        "mls/hour",
        "mls per hour",
        "cc/h",
        "cc/hr",
        "cc/hour",
    ),
    "mL/min": ("ml/min", "ml/mins", "ml/minute", "ml per minute", "cc/min", "cc/minute"),
    "mL": ("ml", "mls", "cc", "ccs", "millilitre", "millilitres", "milliliter", "milliliters"),
    "L": ("l", "lit", "ltr", "litre", "litres", "liter", "liters"),
    "s": ("s", "sec", "secs", "second", "seconds"),
    "min": ("min", "mins", "minute", "minutes"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "g": ("g", "gm", "gms", "gram", "grams"),
    "kg": ("kg", "kgs", "kilogram", "kilograms"),
    "deg": ("deg", "degs", "degree", "degrees", "°", "º"),
    **_CONCENTRATIONS,
    **{rate: (rate.lower(),) for rate in _RATES},
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
_NO_VOLUME = "it does not say in how much fluid; a strength is written as mg/L, mg/mL or units/L"
_SUBSTANCE = "an amount of substance or charge, and no mass; pharmacy knows the strength in mg/L"
_DAY = "24 h is a time and no unit; write mL/h for a rate, mL for a volume"

PLAIN_SPELLINGS = frozenset(
    {
        *("mL/hr", "mL/hour", "mL per hour", "mL/minute", "mL per minute"),
        *("hr", "hour", "hours", "minute", "minutes", "second", "seconds"),
        *("millilitre", "millilitres", "milliliter", "milliliters"),
        *("litre", "litres", "liter", "liters", "gram", "grams", "kilogram", "kilograms"),
        *("degree", "degrees", "°"),
        *(
            "mL/hrs",
            "mL/mins",
            "mLs",
            "mLs/h",
            "mLs/hr",
            "mLs/hour",
            "mLs per hour",
            "hrs",
            "mins",
            "sec",
            "secs",
            "kgs",
            "degs",
        ),
        *("mm Hg", "cm H2O", "cmH₂O", "cm H₂O", "mmhg", "cmh2o"),
        *("mcg per mL", "mcg per L", "mg per mL", "mg per L", "g per L"),
        *("units per mL", "units per L", "million units per L"),
    }
)
"""Spellings that cannot be misread; any other non-standard spelling is flagged."""

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
        **dict.fromkeys(("mcg", "mg", "million units"), _NO_VOLUME),
        **dict.fromkeys(("mmol/l", "mmol/ml", "meq/l", "meq/ml"), _SUBSTANCE),
    }
)
"""Refused unit in lower case → explanation or advice."""

OTHER_UNITS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "kPa": ("2000000/196133", "cmH2O"),
        "Pa": ("2000/196133", "cmH2O"),
        "hPa": ("200000/196133", "cmH2O"),
        "MPa": ("2000000000/196133", "cmH2O"),
        "mbar": ("200000/196133", "cmH2O"),
        "bar": ("200000000/196133", "cmH2O"),
        "psi": ("45359237/645160", "cmH2O"),
        "atm": ("28950000/28019", "cmH2O"),
        "cmHg": ("10", "mmHg"),
        "inHg": ("127/5", "mmHg"),
        "mL/s": ("3600", "mL/h"),
        "mL/second": ("3600", "mL/h"),
        "mL/day": ("1/24", "mL/h"),
        "mL/d": ("1/24", "mL/h"),
        "mL/week": ("1/168", "mL/h"),
        "L/h": ("1000", "mL/h"),
        "L/hr": ("1000", "mL/h"),
        "L/min": ("60000", "mL/h"),
        "L/day": ("125/3", "mL/h"),
        "L/d": ("125/3", "mL/h"),
        "L/s": ("3600000", "mL/h"),
        "dL/h": ("100", "mL/h"),
        "cL/h": ("10", "mL/h"),
        "uL/h": ("1/1000", "mL/h"),
        "uL/min": ("3/50", "mL/h"),
        "uL/s": ("18/5", "mL/h"),
        "µL/h": ("1/1000", "mL/h"),
        "µL/min": ("3/50", "mL/h"),
        "uL": ("1/1000", "mL"),
        "µL": ("1/1000", "mL"),
        "dL": ("100", "mL"),
        "cL": ("10", "mL"),
        "kL": ("1000000", "mL"),
        "gal": ("473176473/125000", "mL"),
        "pint": ("473176473/1000000", "mL"),
        "ms": ("1/1000", "s"),
        "us": ("1/1000000", "s"),
        "day": ("24", "h"),
        "days": ("24", "h"),
        "d": ("24", "h"),
        "week": ("168", "h"),
        "weeks": ("168", "h"),
        "month": ("1461/2", "h"),
        "months": ("1461/2", "h"),
        "year": ("8766", "h"),
        "years": ("8766", "h"),
        "ug": ("1/1000000", "g"),
        "µg": ("1/1000000", "g"),
        "ng": ("1/1000000000", "g"),
        "lb": ("45359237/100000", "g"),
        "lbs": ("45359237/100000", "g"),
        "pound": ("45359237/100000", "g"),
        "pounds": ("45359237/100000", "g"),
        "oz": ("45359237/1600000", "g"),
        "t": ("1000000", "g"),
        "g/mL": ("1000000", "mg/L"),
        "kg/L": ("1000000", "mg/L"),
        "ng/mL": ("1/1000", "mg/L"),
        "ng/L": ("1/1000000", "mg/L"),
        "mg/dL": ("10", "mg/L"),
        "g/dL": ("10000", "mg/L"),
        "mcg/dL": ("1/100", "mg/L"),
        "mg/cc": ("1000", "mg/L"),
        "mg/min": ("1440", "mg/day"),
        "mcg/min": ("36/25", "mg/day"),
        "ug/min": ("36/25", "mg/day"),
        "ug/h": ("3/125", "mg/day"),
        "ug/day": ("1/1000", "mg/day"),
        "µg/h": ("3/125", "mg/day"),
        "µg/day": ("1/1000", "mg/day"),
        "g/min": ("1440000", "mg/day"),
        "mg/d": ("1", "mg/day"),
        "g/d": ("1000", "mg/day"),
        "mcg/d": ("1/1000", "mg/day"),
        "ng/h": ("3/125000", "mg/day"),
        "mg/s": ("86400", "mg/day"),
    }
)
"""A unit that is not taken, as it is likely to be written → exactly how many of a unit that is."""

NO_OTHER_UNITS = frozenset(
    {
        *("mmol", "mol", "mol/L", "mEq", "osm", "mOsm", "percent", "ppm", "drop", "bpm", "rpm"),
        *("in", "inch", "ft", "km", "mm/h", "cm/h", "Fr", "F", "C", "V", "mV", "kpa", "KPA"),
    }
)
"""What is likely to be written as a unit and is none of anything that is set here."""
