"""Reads what wards and pharmacies write in words, such as `hourly`, as a number and its unit.

Only how it is written. Never what a unit means.
"""

from __future__ import annotations

import re

_WORDS = {
    **dict.fromkeys(("hourly", "every hour", "each hour", "once an hour"), "1 h"),
    "every other hour": "2 h",
    **dict.fromkeys(("half-hourly", "half hourly", "every half hour"), "30 min"),
    **dict.fromkeys(("daily", "once daily", "once a day", "every day", "each day"), "24 h"),
}
"""An interval in words → number and unit. QD and q1d are read as other intervals: not here."""

_DIGITS = frozenset("0123456789")
_EVERY = r"(?:every|each) (?=[\d.])"
_Q = r"q ?([\d.]+) ?(?=\D)"
_HOURLY = r"([\d.]+)[- ]?(?:hourly|hrly)"


def as_quantity_text(text: str) -> str:
    """Return `text` as a number and a unit if it is an interval in words; otherwise unchanged.

    A number keeps its digits as written, so that what is unsafe in it is still seen.
    """
    if text[:1] in _DIGITS and text.rstrip()[-1:] not in "yY":
        return text  # of what begins with a digit, only `4-hourly` is an interval in words
    plain = " ".join(text.split()).casefold()
    if plain in _WORDS:
        return _WORDS[plain]
    if hourly := re.fullmatch(_HOURLY, plain):
        return f"{hourly[1]} h"
    if every := re.match(_EVERY, plain):
        return " ".join(text.split())[every.end() :]
    return re.sub(_Q, r"\1 ", plain, count=1) if re.match(_Q, plain) else text


_A_LITRE = r"(?: ?/ ?| (?:per|in) )(?:1,?000 ?mls?|1 ?l) *$"


def with_litre(text: str) -> str:
    """`text` with a litre called so, as in `10 mg per 1000 mL` on the label of a bag."""
    return re.sub(_A_LITRE, "/L", text, flags=re.IGNORECASE)


_A_DAY = r"(?: ?/ ?| (?:per|a|in) )(?:day|24 ?h(?:rs?|ours?)?) *$"


def without_day(text: str) -> str:
    """`text` without what says that it is an amount in a day, as in `2200 mL/day`."""
    return re.sub(_A_DAY, "", text, flags=re.IGNORECASE)
