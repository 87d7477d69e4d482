"""Reads a document into an order: every leaf absent, unreadable or known, with its place.

Judges one leaf at a time: number, unit, choice, time. Never compares two leaves.
"""

from __future__ import annotations

import enum
import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import BEFORE, field_table, in_sentence
from orderlint.finding import Fault, Place
from orderlint.prose.reader import named_in
from orderlint.reading import free_text, quantity_text
from orderlint.reading.free_text import FILLER, find_unsafe_notation, is_filler
from orderlint.reading.interval_text import as_quantity_text
from orderlint.reading.node import KeyValue, Scalar, Section
from orderlint.reading.quantity_text import split_quantity
from orderlint.reading.source_positions import places_within
from orderlint.schema_check import check_shape, describe_form, is_empty, join_or, list_choices
from orderlint.units import (
    SMALL_L,
    SPELLING,
    explain_unknown_unit,
    find_unit,
    format_quantity,
    has_instant_form,
    has_offset,
    parse_instant,
    to_ticks,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.fields import Field, FieldTable
    from orderlint.prose.reader import Named
    from orderlint.reading import Document
    from orderlint.reading.free_text import UnsafeNotation
    from orderlint.reading.node import Node
    from orderlint.reading.quantity_text import NumberText
    from orderlint.units import Unit


UNIT_LEFT_OUT = "unit left out"
"""The flag of a bare number in a field that has one unit."""
CM_ALONE = "cm alone"
CLOCK_PUT_BACK = "clock put back"
FLAGS = frozenset(
    {
        *(*quantity_text.FLAGS, *free_text.FLAGS, FILLER),
        *(SPELLING, SMALL_L, UNIT_LEFT_OUT, "abbreviated", CM_ALONE, CLOCK_PUT_BACK),
    }
)
"""Every flag that a leaf can have: of its text, unit or choice, or of a time in its zone."""

SIGNING_FIELDS = frozenset(
    {"id", "revision", "status", "written", "starts", "review_by", "prescriber", "zone"}
)
"""Fields written by whoever signs an order, whatever it was made from."""
OPTIONAL_SIGNING_FIELDS = frozenset({"zone"})
"""The signing fields that an order may omit: its times carry their own offsets."""


class State(enum.Enum):
    """Whether a leaf is absent, written but unreadable, or has a value."""

    ABSENT = "absent"
    UNREADABLE = "unreadable"
    KNOWN = "known"


INSTRUCTING_TEXTS = ("titration.goal", "notify.events", "stop_when", "instructions")
"""The free texts that can say what is to be done, and so something else than the settings."""


class LocatedName(NamedTuple):
    """What a free text names of the settings, and its place in the file."""

    named: Named
    place: Place


class LocatedNotation(NamedTuple):
    """Unsafe notation in a free text, and its place in the file."""

    notation: UnsafeNotation
    place: Place


@dataclass(frozen=True, slots=True)
class Leaf:
    """One field of an order.

    `value` is ticks for a quantity, milliseconds since 1970 UTC for an instant, an integer for a
    count, otherwise the canonical choice or the text; None unless known. `unit` is the standard
    symbol of the unit written. `text` is as written, or of a text what was written in place of it,
    such as a drug in place of the section with its name. `flags` name unsafe notation, also in an
    unreadable leaf. `unsafe_notation` locates it in a free text, first to last; `named` is what an
    instructing text names of the settings. `to_be_written` is true of what a blank of an order set
    stands for: its text is not yet there. `from_policy` is true of a line of the policy's standing
    orders, of which the order itself says nothing.
    """

    path: str
    state: State = State.ABSENT
    value: int | str | None = None
    unit: str | None = None
    text: str = ""
    flags: frozenset[str] = frozenset()
    place: Place | None = None
    unsafe_notation: tuple[LocatedNotation, ...] = ()
    named: tuple[LocatedName, ...] = ()
    to_be_written: bool = False
    from_policy: bool = False

    @property
    def given(self) -> bool:
        """True if anything is written, readable or not."""
        return self.state is not State.ABSENT

    @property
    def has_words(self) -> bool:
        """True if there is a text in which something can be named."""
        return bool(self.text) and not self.to_be_written

    @property
    def known(self) -> bool:
        """True if the leaf has a value."""
        return self.state is State.KNOWN


@dataclass(frozen=True, slots=True)
class Order:
    """Every leaf of an order by path, the faults met in reading, and the place of each path.

    Settings seen at the bedside are held in the same type.
    """

    file: str
    leaves: Mapping[str, Leaf]
    faults: tuple[Fault, ...]
    places: Mapping[str, Place] = field(default_factory=dict)

    def place_of(self, path: str) -> Place:
        """Return where `path` is written, or the nearest section that should contain it."""
        while path and path not in self.places:
            path = path.rpartition(".")[0]
        return self.places.get(path, Place(self.file, 1, 1))


@dataclass(frozen=True, slots=True)
class LeafReading:
    """One leaf as read, and the fault that made it unreadable, if any."""

    leaf: Leaf
    fault: Fault | None = None


def with_earlier(later: Mapping[str, Leaf], earlier: Mapping[str, Leaf]) -> Mapping[str, Leaf]:
    """Join the leaves of an order with those of an earlier one, whose paths get the prefix
    `before.`.
    """
    before = (replace(leaf, path=f"{BEFORE}{path}") for path, leaf in earlier.items())
    return {**later, **{leaf.path: leaf for leaf in before}}


def read_order(document: Document, table: FieldTable | None = None) -> Order:
    """Read the order in `document`, leaf by leaf. Never raises, whatever is written in it.

    `table` is the field table of another kind of document that has an order's leaves.
    """
    table = table or field_table()
    faults = list(check_shape(document.root, table))
    misshapen = {path for fault in faults for path in fault.spoils}
    leaves = {path: Leaf(path) for path in table.fields}
    places = {"": document.root.place}
    for path, node in _walk(document.root, "", table):
        places[path] = node.place
        if path not in leaves or not isinstance(node, Scalar) or is_empty(node):
            continue
        judged = read_leaf(table.fields[path], node)
        if path == _DRAIN_HEIGHT and table is field_table():
            judged = _height_in_cm(table.fields[path], node, judged)
        leaves[path] = _unreadable(path, node) if path in misshapen else judged.leaf
        if judged.fault and path not in misshapen:
            faults.append(judged.fault._replace(spoils=table.sections.get(path, (path,))))
    for spoilt in faults:
        words = leaves[spoilt.path].text if spoilt.path in leaves else ""
        for path in (path for path in spoilt.spoils if not leaves[path].given):
            # What was meant for it stands there under another form.
            is_text = table.fields[path].kind == "text"
            leaves[path] = Leaf(path, State.UNREADABLE, text=words if is_text else "")
    return Order(document.file, leaves, tuple(sorted(faults, key=_by_place)), places)


def _by_place(fault: Fault) -> tuple[Place, str]:
    return fault.place, fault.rule


def _walk(section: Section, path: str, table: FieldTable) -> Iterator[tuple[str, Node]]:
    """Yield every node whose key is in the table, with its path."""
    keys = table.keys[path]
    for entry in section.entries:
        below = keys.get(entry.key.text)
        if below is not None:
            yield below, entry.value
            if isinstance(entry.value, Section) and below in table.keys:
                yield from _walk(entry.value, below, table)


def _unreadable(path: str, node: Scalar, flags: frozenset[str] = frozenset()) -> Leaf:
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
    flags: frozenset[str] = frozenset(),
) -> LeafReading:
    return LeafReading(Leaf(field.path, State.KNOWN, value, unit, node.text, flags, node.place))


def _fault(
    rule: str, field: Field, node: Scalar, flags: frozenset[str] = frozenset(), **details: str
) -> LeafReading:
    details = {"name": in_sentence(field.name), "form": describe_form(field), **details}
    fault = Fault(rule, field.path, node.text.strip(), node.place, details)
    return LeafReading(_unreadable(field.path, node, flags), fault)


def _read_quantity(field: Field, node: Scalar) -> LeafReading:
    split = split_quantity(as_quantity_text(node.text) if field.is_interval else node.text)
    units = join_or(field.decimals)
    if split is None:
        return _fault("kind-not-expected", field, node, met="a text that is not a number")
    if split.unsafe is not None or split.number is None:
        return _fault("number-form-unsafe", field, node, split.flags, reason=split.unsafe or "")
    only = "".join(field.decimals) if len(field.decimals) == 1 else ""
    if not (split.unit or only):
        return _fault("unit-missing", field, node, split.flags, units=units)
    unit = find_unit(split.unit or only)
    if unit is None:
        said = explain_unknown_unit(_fraction(split.number), split.unit)
        hint = f" ({said})" if said else ""
        details = {"unit": split.unit, "units": units, "hint": hint}
        return _fault("unit-not-known", field, node, split.flags, **details)
    flags = split.flags | ({unit.flag} if unit.flag else set())
    flags |= set() if split.unit else {UNIT_LEFT_OUT}
    if unit.symbol not in field.decimals:
        details = {"unit": unit.symbol, "units": units, "dimension": field.dimension or ""}
        return _fault("unit-of-wrong-kind", field, node, flags, **details)
    return _judge_number(field, node, split.number, unit, flags)


_DRAIN_HEIGHT = "drainage.height"


def _height_in_cm(field: Field, node: Scalar, judged: LeafReading) -> LeafReading:
    """Read a drain height in cm as one in cmH2O, flagged: rules say whether that may be meant.

    A drain hangs at a height, so cm has one likely meaning there; of a pressure it has none.
    """
    split, water = split_quantity(node.text), find_unit("cmH2O")
    if judged.fault is None or judged.fault.rule != "unit-not-known" or water is None:
        return judged
    if split is None or split.number is None or split.unit.casefold() not in {"cm", "cms"}:
        return judged
    return _judge_number(field, node, split.number, water, split.flags | {CM_ALONE})


def _judge_number(
    field: Field, node: Scalar, number: NumberText, unit: Unit, flags: frozenset[str]
) -> LeafReading:
    ticks = to_ticks(number, unit)
    allowed = field.decimals[unit.symbol]
    if ticks is None or _decimals_needed(number) > allowed:
        return _fault("number-too-fine", field, node, flags, decimals=str(allowed))
    if not field.lowest <= ticks <= field.highest:
        lowest, highest = (
            format_quantity(end, unit.symbol) for end in (field.lowest, field.highest)
        )
        return _fault("value-not-conceivable", field, node, flags, lowest=lowest, highest=highest)
    return _known(field, node, ticks, unit.symbol, flags)


def _decimals_needed(number: NumberText) -> int:
    """Count the decimals without trailing zeros: 5.00 is no finer than 5."""
    whole = number.digits.rjust(number.decimals, "0")
    return len(whole[len(whole) - number.decimals :].rstrip("0")) if number.decimals else 0


def _fraction(number: NumberText) -> Fraction:
    sign = -1 if number.negative else 1
    return Fraction(sign * int(number.digits), 10**number.decimals)


def _read_choice(field: Field, node: Scalar) -> LeafReading:
    choice = field.choice_of(node.text)
    if choice is None:
        near = field.nearest_choice(node.text)
        nearest = f"; the nearest is {near}" if near else ""
        return _fault("choice-not-known", field, node, nearest=nearest, choices=list_choices(field))
    abbreviated = field.is_abbreviation(node.text)
    flags = frozenset({"abbreviated"}) if abbreviated else frozenset[str]()
    return _known(field, node, choice, None, flags)


def _read_text(field: Field, node: Scalar) -> LeafReading:
    marks = find_unsafe_notation(node.text)
    flags = frozenset(mark.flag for mark in marks)
    flags |= {FILLER} if is_filler(node.text) else frozenset()
    judged = _known(field, node, node.text, None, flags)
    places = places_within(node, (mark.offset for mark in marks))
    marked = tuple(LocatedNotation(mark, place) for mark, place in zip(marks, places, strict=True))
    named = _named(node) if field.path in INSTRUCTING_TEXTS else ()
    if not marked and not named:
        return judged
    return LeafReading(replace(judged.leaf, unsafe_notation=marked, named=named))


def _named(node: Scalar) -> tuple[LocatedName, ...]:
    found = named_in(node.text)
    places = places_within(node, (item.offset for item in found))
    return tuple(LocatedName(item, place) for item, place in zip(found, places, strict=True))


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
    from orderlint.time_zones import nearest_zone, zone_names  # noqa: PLC0415 - cold start

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


def example_leaf(field: Field) -> Leaf:
    """Return the leaf of the schema's own example of a field."""
    return read_leaf(field, Scalar(field.example, field.example, "text", _EXAMPLE)).leaf


_EXAMPLE = Place("example", 1, 1)


def nest_paths(leaves: Mapping[str, Node], place: Place) -> Section:
    """Make nested sections of dotted paths, as if written in a file."""
    children: dict[str, dict[str, Node]] = {}
    for path, scalar in leaves.items():
        head, _, rest = path.partition(".")
        children.setdefault(head, {})[rest] = scalar
    entries = []
    for head, below in children.items():
        key = Scalar(head, head, "text", place)
        value = below[""] if "" in below else nest_paths(below, place)
        entries.append(KeyValue(key, value))
    return Section(tuple(entries), place)
