"""Finds, in an order set's own texts, blanket orders and settings that have their own field.

Words and numbers that can be pointed at. Never what a sentence means.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from orderlint.fields import field_table, in_sentence
from orderlint.finding import Fault
from orderlint.unit_spellings import SPELLINGS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.order_set.model import Slot

_LONGEST_QUOTE = 60
# Compiled where a set has a text: an order has none of this to do.
_BLANKET = (
    r"\b(?:renew|resum|continu|reinstat|restart|repeat)\w*\s+(?:[\w-]+\s+){0,3}?"
    r"(?:all|previous|prior|preceding|former|earlier|existing|home|usual|pre-?\w+)\s+"
    r"(?:[\w-]+\s+){0,3}?(?:orders?|settings?|medications?|drugs?|treatments?|therap(?:y|ies))\b"
)
_OVERRIDES = (
    r"\b(?:regardless of|irrespective of|instead of|in place of|overrid(?:e|es|ing|den)"
    r"|ignor(?:e|es|ing)|disregard(?:s|ing)?)\s+(?:[\w-]+\s+){0,5}?"
    r"(?:limits?|levels?|rates?|orders?|settings?|alarms?|heights?|volumes?|checks?)\b"
)
_NUMBER = r"(?<![\w.,])[-−–]?\d+(?:[.,]\d+)?\s?"
_OF_CONTROLLER = ("mmHg", "cmH2O", "mL/h", "mL/min")
"""Units of pressure and rate: a number in one of them belongs in its own field."""


def free_text_faults(slot: Slot) -> Iterator[Fault]:
    """Yield the faults of the fixed texts of a slot; a blank has none."""
    field = field_table().fields[slot.path]
    if field.kind != "text" or slot.blank:
        return
    name = in_sentence(field.name)
    for leaf in slot.options:
        for rule, pattern in (
            ("blanket-order", _BLANKET),
            ("free-text-overrides-field", f"{_OVERRIDES}|{_settings()}"),
        ):
            found = re.search(pattern, leaf.text, re.IGNORECASE)
            if found and leaf.place is not None:
                quote = " ".join(found[0].split())[:_LONGEST_QUOTE]
                yield Fault(rule, slot.path, leaf.text, leaf.place, {"name": name, "quote": quote})


def _settings() -> str:
    """Return a pattern for a number with a unit of pressure or rate, in any accepted spelling."""
    spelt = [*_OF_CONTROLLER, *(s for s, unit in SPELLINGS.items() if unit in _OF_CONTROLLER)]
    units = "|".join(re.escape(unit) for unit in sorted(spelt, key=len, reverse=True))
    return rf"{_NUMBER}(?:{units})(?![\w/])"
