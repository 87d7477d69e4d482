"""The words by which a number of a free text is read: units, what is counted, months, numbers.

In lower case, as in `words`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


def listed_words(listed: str) -> tuple[str, ...]:
    """The words of a list with commas."""
    return tuple(listed.split(", "))


def listed_set(listed: str) -> frozenset[str]:
    """The words of a list with commas, in no order."""
    return frozenset(listed_words(listed))


NUMBERS: Mapping[str, int] = {
    word: number
    for number, word in enumerate(
        listed_words(
            "zero, one, two, three, four, five, six, seven, eight, nine, ten, eleven, twelve"
        )
    )
} | {"fifteen": 15, "eighteen": 18, "twenty": 20, "thirty": 30, "forty": 40, "sixty": 60}
"""Numbers in words; they count before a unit of pressure or flow alone."""

COUNTED = listed_words(
    "days, day, d, weeks, week, wk, shifts, shift, months, month, samples, sample, checks, "
    "check, cultures, culture, readings, reading, nurses, nurse, people, staff, times, doses, "
    "dose, tests, attempts, occasions, specimens, bags, drops, fr, french, gauge, points, point, "
    "mg, mcg, micrograms, milligrams, units, unit, iu, mmol, meq, c, f, %"
)
"""What may be counted after a number that is no setting's."""

LENGTH, VOLUME = "length", "volume"
MORE_UNITS: Mapping[str, tuple[str, str]] = (
    dict.fromkeys(listed_words("cm, cms"), ("cmH2O", LENGTH))
    | dict.fromkeys(listed_words("cm water, cm of water, cmh20, cm h20"), ("cmH2O", "pressure"))
    | dict.fromkeys(listed_words("mmh2o, mm h2o, kpa, torr"), ("", "pressure"))
    | dict.fromkeys(listed_words("ml an hour, mls/h, mls/hr, mls per hour"), ("mL/h", "flow"))
    | dict.fromkeys(listed_words("ml/kg/h, ml/kg/hr, ml/kg/hour"), ("", "flow"))
    | dict.fromkeys(
        listed_words("ml/day, ml/d, ml per day, ml/24h, ml/24 h, ml/shift, l/day"), ("", VOLUME)
    )
)
"""Units beside those of settings: spelling → the symbol by which it is compared, and a dimension.

Without a symbol a number cannot be compared. A length counts as a level of a drain alone.
"""


ABOVE = listed_set(">, ≥, above, over, exceeds")
"""Signs and words before a number that is an upper bound."""
PAST = listed_set("was, were, had, previous, previously, placed, inserted, initially, opening")
"""Words before a number that tells what once was."""
ONCE = listed_set("insertion, admission, arrival, yesterday, ago")
"""Words after or before such a number."""
NOW = listed_set("now, currently, today, to, set, keep, run, start, then")
"""Words beside which a number is no tale."""

MONTHS = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|june?|july?|aug(?:ust)?|sept?(?:ember)?"
    r"|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?|may(?=,? \d{4}))\b"
)
"""Names of months, as a pattern: the number before one is a day. `May` can be a verb."""
BELOW_ZERO = (
    r"\s+(?:below|under|beneath)\s+(?:the\s+)?(?:level\s+of\s+(?:the\s+)?)?(?:zero|tragus|eam\b|eac\b"
    r"|ear\b|external|auditory|foramen|landmark|reference)"
)
"""What after a level makes it one below the landmark, as a pattern."""
