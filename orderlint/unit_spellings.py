"""Names of units: the spellings that are read, and what is said of those that are not.

Tables of text only. Never a factor between units.
"""

from __future__ import annotations

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

SPELLINGS_OF = {
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
"""Unit symbol → its accepted spellings, in lower case."""

SPELLINGS: Mapping[str, str] = {
    spelling: symbol for symbol, spellings in SPELLINGS_OF.items() for spelling in spellings
}
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
        *(symbol.replace("/", " per ") for symbol in _CONCENTRATIONS),
    }
)
"""Spellings that cannot be misread; any other non-standard spelling is flagged."""

HINTS: Mapping[str, str] = {
    "cm": f"cm alone is a length; {_WATER}",
    "cms": f"cms is a length; {_WATER}",
    **dict.fromkeys(("cmh20", "cm h20"), _ZERO),
    "cm/h2o": f"cm/h2o reads as a length divided by water; {_WATER}",
    **dict.fromkeys(("cm water", "cm of water"), f"the unit has a symbol of its own; {_WATER}"),
    "h2o": f"centimetres or millimetres of water is not said; {_WATER}",
    "mmh2o": f"a millimetre of water is a tenth of a cmH2O; {_WATER}",
    "mm": f"mm alone is a length; {_MERCURY}",
    "mm/hg": f"mm/Hg reads as a length divided by mercury; {_MERCURY}",
    "hg": f"centimetres or millimetres of mercury is not said; {_MERCURY}",
    "torr": f"torr is nearly the same as mmHg, but the controller does not show it; {_MERCURY}",
    **dict.fromkeys(("gtt", "gtts", "gtt/min", "gtts/min", "drops", "drops/min"), _DROPS),
    **dict.fromkeys(("ml/24h", "ml/24 h", "ml/24hr", "l/24h", "l/24 h"), _DAY),
    **dict.fromkeys(("ml/kg/h", "ml/kg/hr"), "nothing here is set by body weight; write mL/h"),
    "m": "m may be read as minutes, metres or milli; if minutes are meant, write min",
    "u": "u may be read as 0, 4 or cc; write the unit out",
    "iu": "IU may be read as IV or 10; write the unit out",
    "unit": "the word unit says nothing of what is measured",
    "units": "the word units says nothing of what is measured",
    "%": "a percentage is not a quantity that is set here",
    **dict.fromkeys(("mcg", "mg", "million units"), _NO_VOLUME),
    **dict.fromkeys(("mmol/l", "mmol/ml", "meq/l", "meq/ml"), _SUBSTANCE),
}
"""Refused unit in lower case → explanation or advice."""

_OTHERS = {
    "cmH2O": {
        "2000000/196133": "kPa",
        "2000/196133": "Pa",
        "200000/196133": "hPa, mbar",
        "2000000000/196133": "MPa",
        "200000000/196133": "bar",
        "45359237/645160": "psi",
        "28950000/28019": "atm",
    },
    "mmHg": {"10": "cmHg", "127/5": "inHg"},
    "mL/h": {
        "3600": "mL/s, mL/second",
        "1/24": "mL/day, mL/d",
        "1/168": "mL/week",
        "1000": "L/h, L/hr",
        "60000": "L/min",
        "125/3": "L/day, L/d",
        "3600000": "L/s",
        "100": "dL/h",
        "10": "cL/h",
        "1/1000": "uL/h, µL/h",
        "3/50": "uL/min, µL/min",
        "18/5": "uL/s",
    },
    "mL": {
        "1/1000": "uL, µL",
        "100": "dL",
        "10": "cL",
        "1000000": "kL",
        "473176473/125000": "gal",
        "473176473/1000000": "pint",
    },
    "s": {"1/1000": "ms", "1/1000000": "us"},
    "h": {
        "24": "day, days, d",
        "168": "week, weeks",
        "1461/2": "month, months",
        "8766": "year, years",
    },
    "g": {
        "1/1000000": "ug, µg",
        "1/1000000000": "ng",
        "45359237/100000": "lb, lbs, pound, pounds",
        "45359237/1600000": "oz",
        "1000000": "t",
    },
    "mg/L": {
        "1000000": "g/mL, kg/L",
        "1/1000": "ng/mL",
        "1/1000000": "ng/L",
        "10": "mg/dL",
        "10000": "g/dL",
        "1/100": "mcg/dL",
        "1000": "mg/cc",
    },
    "mg/day": {
        "1440": "mg/min",
        "36/25": "mcg/min, ug/min",
        "3/125": "ug/h, µg/h",
        "1/1000": "ug/day, µg/day, mcg/d",
        "1440000": "g/min",
        "1": "mg/d",
        "1000": "g/d",
        "3/125000": "ng/h",
        "86400": "mg/s",
    },
}
OTHER_UNITS: Mapping[str, tuple[str, str]] = {
    spelling: (count, symbol)
    for symbol, counts in _OTHERS.items()
    for count, spellings in counts.items()
    for spelling in spellings.split(", ")
}
"""A unit that is not taken, as it is likely to be written → exactly how many of a unit that is."""

NO_OTHER_UNITS = frozenset(
    {
        *("mmol", "mol", "mol/L", "mEq", "osm", "mOsm", "percent", "ppm", "drop", "bpm", "rpm"),
        *("in", "inch", "ft", "km", "mm/h", "cm/h", "Fr", "F", "C", "V", "mV", "kpa", "KPA"),
    }
)
"""What is likely to be written as a unit and is none of anything that is set here."""
