"""Finds, in an order set's own texts, blanket orders and settings that have their own field.

Words and numbers that can be pointed at. Never what a sentence means.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, NotChecked
from orderlint.mention_check.faults import NUMBER_RULE, faults_of_leaf, text_not_checked
from orderlint.order import READ_TEXTS, Leaf, State
from orderlint.order_set.model import OrderSet, Slot, within
from orderlint.unit_spellings import SPELLINGS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


OVERRIDES_RULE = "free-text-overrides-field"
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


def free_text_faults(slot: Slot, order_set: OrderSet) -> Iterator[Fault]:
    """Yield the faults of the fixed texts of a slot; a blank has none."""
    if field_table().fields[slot.path].kind == "text" and not slot.blank:
        for leaf in slot.options:
            written = tuple(_written_faults(leaf))
            yield from written
            overrides = any(fault.rule == OVERRIDES_RULE for fault in written)
            for fault in faults_of_leaf(leaf, lambda path: _readings(path, order_set)):
                if fault.rule != NUMBER_RULE or not overrides:
                    yield fault


def _written_faults(leaf: Leaf) -> Iterator[Fault]:
    """Yield what is wrong with a text whatever the settings are."""
    name = in_sentence(field_table().display_name(leaf.path))
    for rule, quote in wrong_words(leaf.text):
        if leaf.place is not None:
            yield Fault(rule, leaf.path, leaf.text, leaf.place, {"name": name, "quote": quote})


def wrong_words(text: str) -> Iterator[tuple[str, str]]:
    """Each rule that a text breaks whatever the settings are, with the words that break it."""
    for rule, pattern in (
        ("blanket-order", _BLANKET),
        (OVERRIDES_RULE, f"{_OVERRIDES}|{_settings()}"),
    ):
        found = re.search(pattern, text, re.IGNORECASE)
        if found:
            yield rule, " ".join(found[0].split())[:_LONGEST_QUOTE]


def _settings() -> str:
    """Return a pattern for a number with a unit of pressure or rate, in any accepted spelling."""
    spelt = [*_OF_CONTROLLER, *(s for s, unit in SPELLINGS.items() if unit in _OF_CONTROLLER)]
    units = "|".join(re.escape(unit) for unit in sorted(spelt, key=len, reverse=True))
    return rf"{_NUMBER}(?:{units})(?![\w/])"


_MOST_HELD = 200
"""Most options of a setting beside which the numbers of texts are put."""


def texts_not_checked(order_set: OrderSet) -> Iterator[NotChecked]:
    """Yield the fixed texts that are not understood whole, or say something else."""
    for slot in (order_set.slots.get(path) for path in READ_TEXTS):
        for leaf in () if slot is None or slot.blank else slot.options:
            yield from text_not_checked(leaf, lambda path: _readings(path, order_set))


def _readings(path: str, order_set: OrderSet) -> Sequence[Leaf]:
    """The leaves that an order from the set can have at a path."""
    offered = any(within(path, section) for section in order_set.offered_sections)
    return (*_options(order_set.slots[path]), *((Leaf(path),) if offered else ()))


def _options(slot: Slot) -> Sequence[Leaf]:
    """The options of a setting; one that cannot be read stands for what is still to be written."""
    if slot.blank or slot.span or len(slot.options) > _MOST_HELD:
        return (Leaf(slot.path, State.UNREADABLE),)
    return slot.options
