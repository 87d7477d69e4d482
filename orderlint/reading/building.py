"""Nodes built under the limits that hold for YAML and JSON alike.

Only limits and refusals that both share. Never anything of the notation of one of them.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from orderlint.finding import Refused
from orderlint.reading.characters import first_refused, refusal
from orderlint.reading.node import Scalar

if TYPE_CHECKING:
    from orderlint.finding import Place
    from orderlint.reading.node import Form

DEEPEST = 32  # sections and lists inside one another, the outermost included
MOST_NODES = 20_000  # sections, lists, keys and values

# Tried once for each run of digits, so that the search stays linear.
_LONG_DIGITS = re.compile(r"(?<!\d)\d{41}")


def scalar(text: str, raw: str, form: Form, place: Place) -> Scalar:
    """A Scalar whose resolved text is safe to show and to count with; otherwise Refused.

    INVARIANT: no run of digits in a tree is longer than 40, so int() of it never fails.
    """
    offset = first_refused(text)
    if offset is not None:
        raise Refused(refusal(text[offset]), place)
    if len(text) > 40 and _LONG_DIGITS.search(text):
        raise Refused("More than 40 digits stand in a row here.", place)
    return Scalar(text, raw, form, place)


def check_new(key: Scalar, seen: dict[str, Place]) -> None:
    """Refuse a key whose text is in `seen` already, naming both places; else add it there."""
    first = seen.setdefault(key.text, key.place)
    if first is not key.place:
        raise Refused("The same key stands twice in one section.", key.place, also=first)


def too_deep(place: Place) -> Refused:
    """The refusal of a section or list at `place`, inside DEEPEST others."""
    return Refused(f"More than {DEEPEST} sections and lists stand inside one another.", place)


def check_count(nodes: int, place: Place) -> None:
    """Refuse the node that is one too many."""
    if nodes > MOST_NODES:
        raise Refused(f"The file has more than {MOST_NODES:,} keys and values.", place)
