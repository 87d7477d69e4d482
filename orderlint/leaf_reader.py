"""Reads one leaf: its number, unit, choice, time or text; known, or unreadable with a fault.

Never compares two leaves.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import Field, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Place
from orderlint.mentions.patient_words import patient_mentions
from orderlint.mentions.reader import mentions_in
from orderlint.order import (
    CM_ALONE,
    INSTRUCTING_TEXTS,
    READ_TEXTS,
    UNIT_LEFT_OUT,
    Leaf,
    LocatedMention,
    LocatedNotation,
    State,
)
from orderlint.quantity_words import explain_unknown_unit, format_quantity
from orderlint.reading.node import Scalar
from orderlint.reading.quantity_text import NumberText, QuantityText, split_quantity
from orderlint.reading.source_positions import places_within
from orderlint.reading.unsafe_notation import FILLER, find_unsafe_notation, is_filler
from orderlint.reading.worded_quantity import as_quantity_text, with_litre, without_day
from orderlint.schema_check import describe_form, join_or, list_choices
from orderlint.units import Unit, find_unit, has_instant_form, has_offset, parse_instant, to_ticks

if TYPE_CHECKING:
    from collections.abc import Callable
    from fractions import Fraction


class LeafReading(NamedTuple):
    """One leaf as read, and the fault that made it unreadable, if any."""

    leaf: Leaf
    fault: Fault | None = None


_NO_FLAGS: frozenset[str] = frozenset()


def unreadable(path: str, node: Scalar, flags: frozenset[str] = _NO_FLAGS) -> Leaf:
    """The leaf of a scalar that cannot be read."""
    return Leaf(path, State.UNREADABLE, None, None, node.text, flags, node.place)


def read_leaf(field: Field, node: Scalar) -> LeafReading:
    """Read one scalar, which is not empty, as the value of one field.

    The leaf of the result is known, or the result has a fault.
    """
    reader = _READERS.get(field.kind)
    return reader(field, node) if reader else _known(field, node, node.text)


def _known(
    field: Field,
    node: Scalar,
    value: int | str,
    unit: str | None = None,
    flags: frozenset[str] = _NO_FLAGS,
) -> LeafReading:
    return LeafReading(Leaf(field.path, State.KNOWN, value, unit, node.text, flags, node.place))


def _fault(
    rule: str, field: Field, node: Scalar, flags: frozenset[str] = _NO_FLAGS, **details: str
) -> LeafReading:
    details = {"name": in_sentence(field.name), "form": describe_form(field), **details}
    said = _OF_CARE if field.is_care and rule in _NO_QUANTITY else rule
    fault = Fault(said, field.path, node.text.strip(), node.place, details)
    return LeafReading(unreadable(field.path, node, flags), fault)


_NO_QUANTITY = {"kind-not-expected", "number-form-unsafe", "unit-missing", "unit-not-known"}
_OF_CARE = "care-setting-not-read"
"""What is found in place of one of these where nobody keys the number in: `> 65 mmHg`, a target."""


def _read_quantity(field: Field, node: Scalar) -> LeafReading:
    split = split_quantity(_worded(field)(node.text))
    if split is None:
        return _fault("kind-not-expected", field, node, met="a text that is not a number")
    if split.unsafe is not None or split.number is None:
        return _fault("number-form-unsafe", field, node, split.flags, reason=split.unsafe or "")
    only = next(iter(field.decimals)) if len(field.decimals) == 1 else ""
    unit = find_unit(split.unit or only)
    if unit is None:
        return _unit_fault(field, node, split)
    flags = split.flags
    if unit.flag:
        flags |= {unit.flag}
    if not split.unit:
        flags |= {UNIT_LEFT_OUT}
    if unit.symbol not in field.decimals:
        details = {"unit": unit.symbol, "units": join_or(field.decimals)}
        dimension = field.dimension or ""
        return _fault("unit-of-wrong-kind", field, node, flags, **details, dimension=dimension)
    return _judge_number(field, node, split.number, unit, flags)


def _worded(field: Field) -> Callable[[str], str]:
    """What makes a number and a unit of how wards and pharmacies word this field."""
    if field.is_interval:
        return as_quantity_text
    if field.dimension == "concentration":
        return with_litre
    return without_day if field.is_a_day else str


def _unit_fault(field: Field, node: Scalar, split: QuantityText) -> LeafReading:
    units = join_or(field.decimals)
    if split.number is None or not split.unit:
        return _fault("unit-missing", field, node, split.flags, units=units)
    said = explain_unknown_unit(_fraction(split.number), split.unit)
    details = {"unit": split.unit, "units": units, "hint": f" ({said})" if said else ""}
    return _fault("unit-not-known", field, node, split.flags, **details)


DRAIN_HEIGHT = "drainage.height"


def height_in_cm(field: Field, node: Scalar, judged: LeafReading) -> LeafReading:
    """Read a drain height in cm as one in cmH2O, flagged: rules say whether that may be meant.

    A drain hangs at a height, so cm has one likely meaning there; of a pressure it has none.
    """
    if judged.fault is None or judged.fault.rule != "unit-not-known":
        return judged
    split, water = split_quantity(node.text), find_unit("cmH2O")
    if split is None or split.number is None or water is None:
        return judged
    if split.unit.casefold() not in {"cm", "cms"}:
        return judged
    return _judge_number(field, node, split.number, water, split.flags | {CM_ALONE})


def _judge_number(
    field: Field, node: Scalar, number: NumberText, unit: Unit, flags: frozenset[str]
) -> LeafReading:
    ticks = to_ticks(number, unit)
    allowed = field.decimals[unit.symbol]
    zeros = len(number.digits) - len(number.digits.rstrip("0"))  # 5.00 is no finer than 5
    if ticks is None or number.decimals - zeros > allowed:
        return _fault("number-too-fine", field, node, flags, decimals=str(allowed))
    if not field.lowest <= ticks <= field.highest:
        lowest, highest = (
            format_quantity(end, unit.symbol) for end in (field.lowest, field.highest)
        )
        return _fault("value-not-conceivable", field, node, flags, lowest=lowest, highest=highest)
    return _known(field, node, ticks, unit.symbol, flags)


def _fraction(number: NumberText) -> Fraction:
    from fractions import Fraction  # noqa: PLC0415 - cold start

    sign = -1 if number.negative else 1
    return Fraction(sign * int(number.digits), 10**number.decimals)


def _read_choice(field: Field, node: Scalar) -> LeafReading:
    choice = field.choice_of(node.text)
    if choice is None:
        near = field.nearest_choice(node.text)
        nearest = f"; the nearest is {near}" if near else ""
        return _fault("choice-not-known", field, node, nearest=nearest, choices=list_choices(field))
    flags = frozenset({"abbreviated"}) if field.is_abbreviation(node.text) else _NO_FLAGS
    return _known(field, node, choice, None, flags)


def _read_text(field: Field, node: Scalar) -> LeafReading:
    marks = find_unsafe_notation(node.text)
    flags = frozenset(mark.flag for mark in marks)
    if is_filler(node.text):
        flags |= {FILLER}
    places = places_within(node, (mark.offset for mark in marks))
    marked = tuple(LocatedNotation(mark, place) for mark, place in zip(marks, places, strict=True))
    mentions = _mentions(field, node) if field.path in READ_TEXTS else ()
    text = node.text
    return LeafReading(
        Leaf(field.path, State.KNOWN, text, None, text, flags, node.place, marked, mentions)
    )


def _mentions(field: Field, node: Scalar) -> tuple[LocatedMention, ...]:
    is_instructing = field.path in INSTRUCTING_TEXTS
    found = mentions_in(node.text) if is_instructing else patient_mentions(node.text)
    places = places_within(node, (item.offset for item in found))
    return tuple(LocatedMention(item, place) for item, place in zip(found, places, strict=True))


def _read_instant(field: Field, node: Scalar) -> LeafReading:
    text = node.text.strip()
    instant = parse_instant(text)
    if instant is None:
        without = has_instant_form(text) and not has_offset(text)
        met = "a time without its offset from UTC" if without else "no date and time"
        return _fault("kind-not-expected", field, node, met=met)
    if not field.lowest <= instant <= field.highest:
        return _fault("value-not-conceivable", field, node, lowest="the year 1900", highest="2199")
    return _known(field, node, instant)


def _read_zone(field: Field, node: Scalar) -> LeafReading:
    from orderlint.local_time import nearest_zone, zone_names  # noqa: PLC0415 - cold start

    name = node.text.strip()
    if name in zone_names():
        return _known(field, node, name)
    near = nearest_zone(name)
    return _fault("zone-not-known", field, node, nearest=f"; the nearest is {near}" if near else "")


_COUNT = re.compile(r"0|[1-9][0-9]*")


def _read_count(field: Field, node: Scalar) -> LeafReading:
    if not _COUNT.fullmatch(node.text) or int(node.text) > field.highest:
        return _fault("kind-not-expected", field, node, met="a text that is not a whole number")
    return _known(field, node, int(node.text))


_READERS = {
    "quantity": _read_quantity,
    "choice": _read_choice,
    "instant": _read_instant,
    "count": _read_count,
    "text": _read_text,
    "zone": _read_zone,
}
"""By kind of field; a label is read as it is."""


def leaf_of(path: str, text: str) -> Leaf:
    """Return the leaf at `path` of an order as it is read of a text that stands in no file."""
    written = Scalar(text, text, "text", Place("", 1, 1))
    return read_leaf(field_table().fields[path], written).leaf


def example_leaf(field: Field) -> Leaf:
    """Return the leaf of the schema's own example of a field."""
    written = Scalar(field.example, field.example, "text", Place("example", 1, 1))
    return read_leaf(field, written).leaf
