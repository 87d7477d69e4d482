"""Makes nodes under the limits that YAML and JSON share.

Only shared limits and refusals. Never anything of one notation.
"""

from __future__ import annotations

import re

from orderlint.finding import Place, Refused
from orderlint.reading.node import Form, Scalar, new
from orderlint.reading.quantity_text import MOST_DIGITS
from orderlint.reading.unicode_checks import first_refused_offset, refusal_message

DEEPEST = 32  # sections and lists inside one another, the outermost included
MOST_KEYS = 200  # keys of one section
MOST_CHARACTERS = 20_000  # of one key or value: texts take half a minute for a million
MOST_NODES = 20_000  # sections, lists, keys and values
TWICE = "The same key stands twice in one section."

# Tried once for each run of digits, so that the search stays linear.
LONG_DIGITS = re.compile(rf"(?<!\d)\d{{{MOST_DIGITS + 1},}}")
"""More digits in a row than a document may have."""


def make_scalar(text: str, raw: str, form: Form, place: Place) -> Scalar:
    """Make a Scalar whose resolved text is safe to show and to compute with. Raises Refused.

    INVARIANT: no run of digits in a tree is longer than MOST_DIGITS, so int() of it never fails.
    """
    if len(text) > MOST_DIGITS or not (text.isascii() and text.isprintable()):
        _check_text(text, place)
    return new(Scalar, (text, raw, form, place))


def _check_text(text: str, place: Place) -> None:
    """Raise Refused if a text is too long, or has what cannot be shown or computed with."""
    if len(text) > MOST_CHARACTERS:
        message = f"More than {MOST_CHARACTERS:,} characters stand in one key or value."
        raise Refused(message, place)
    offset = first_refused_offset(text)
    if offset is not None:
        raise Refused(refusal_message(text[offset]), place)
    if len(text) > MOST_DIGITS and LONG_DIGITS.search(text):
        raise Refused(f"More than {MOST_DIGITS} digits stand in a row here.", place)


def check_key(key: Scalar, seen: dict[str, Place]) -> None:
    """Add a key to `seen`. Raises Refused if it is empty, a duplicate, or one too many."""
    if not key.text.strip():
        raise Refused("A key is empty.", key.place)
    if len(seen) >= MOST_KEYS:
        raise Refused(f"A section has more than {MOST_KEYS} keys.", key.place)
    first = seen.setdefault(key.text, key.place)
    if first is not key.place:
        raise Refused(TWICE, key.place, also=first)


def too_deep_refusal(place: Place) -> Refused:
    """Make the refusal of a section or list at `place` that is nested too deeply."""
    return Refused(f"More than {DEEPEST} sections and lists stand inside one another.", place)


def too_many_refusal(place: Place, most: int = MOST_NODES) -> Refused:
    """Make the refusal of a key or value at `place` that is one beyond the `most` of a file."""
    return Refused(f"The file has more than {most:,} keys and values.", place)
