"""Reads one entry of an order set into a slot: fixed, a choice, in steps, or blank.

Judges one leaf at a time. Never a condition, never another leaf, never what is good practice.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import Field, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Place
from orderlint.leaf_reader import example_leaf, read_leaf
from orderlint.order import SIGNING_FIELDS, Leaf, State
from orderlint.order_set.model import Slot, Span
from orderlint.order_set.steps import MOST_OPTIONS, EntryError, read_steps
from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.rulebook.yaml_fields import near
from orderlint.schema_check import has_allowed_form, is_empty, wrong_kind_fault
from orderlint.units import ticks_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence


FORMS = {
    "fixed": ("fixed",),
    "choose": ("choose", "preset"),
    "blank": ("blank", "label", "from", "to", "step"),
    "from": ("from", "to", "step", "preset"),
}
"""The forms of an entry: the key that each must have → the keys that it may have.

Any of them may have `shown_when` as well, and `limits` beside it.
"""
SHOWN_WHEN, LIMITS = GATE_KEYS = ("shown_when", "limits")
BLANK = ("required", "optional")
TO_BE_WRITTEN = "to be written"
"""Stands for the text that somebody will write in a blank."""
ANY_OTHER = "any other"
"""Stands for a text that is none of the choices."""

_NAMED_FORMS = "fixed, choose, from or blank"
_KEYS = frozenset(key for keys in FORMS.values() for key in keys)


class SlotReading(NamedTuple):
    """A slot, the faults of unreadable options, and those that leave its options open."""

    slot: Slot
    faults: tuple[Fault, ...] = ()
    unsettled: tuple[Fault, ...] = ()


def read_slot(field: Field, node: Node) -> SlotReading:
    """Read an entry of a set into the slot of a field. `node` is not empty."""
    if isinstance(node, Scalar):
        return _slot(field, node.place, [node], 0)
    if isinstance(node, Listing):
        reason = "a list stands here, and the options of a choice stand in a list under choose:"
        return _unreadable_slot(field, node, reason)
    wrong = [entry_fault(field.path, key, reason) for key, reason in _wrong_keys(node)]
    try:
        entry = _read_form(field, node, _form(node))
    except EntryError as error:
        entry = _unreadable_slot(field, error.node, error.reason, error.fault)
    return entry._replace(unsettled=(*wrong, *entry.unsettled))


def is_slot_entry(section: Section) -> bool:
    """True if a section that could also be a group of settings is an entry, by its keys."""
    return any(entry.key.text in _KEYS for entry in section.entries)


def blank_slot(
    field: Field, place: Place | None, *, required: bool = True, label: str = ""
) -> Slot:
    """Make the slot of an unbounded blank."""
    signed = required and field.path in SIGNING_FIELDS
    absent = () if required else (Leaf(field.path, place=place),)
    options: tuple[Leaf, ...] = ()
    span = None
    if field.kind == "choice":
        options = _choices_of(field, place)
    elif field.kind in {"text", "label"}:
        options = _written(field, (TO_BE_WRITTEN,), place)
    elif field.kind == "zone":  # names come from a list, so one represents all
        options = _written(field, (field.example,), place)
    else:
        span = Span(field.lowest, field.highest, _grids(field), _steps(field))
    preset = None if required else 0
    return Slot(field.path, (*absent, *options), preset, span, label, signed, place, blank=True)


def entry_fault(path: str, node: Node, reason: str, spoils: tuple[str, ...] = ()) -> Fault:
    """Make the fault of an entry or section of a set that cannot be read."""
    name = in_sentence(field_table().display_name(path))
    written = node.text.strip() if isinstance(node, Scalar) else ""
    # A reason that names what is near ends as a question.
    details = {"name": name, "reason": reason if reason.endswith("?") else f"{reason}."}
    return Fault("set-entry-not-understood", path, written, node.place, details, spoils)


def _form(section: Section) -> str | None:
    keys = {entry.key.text for entry in section.entries}
    found = next((form for form in FORMS if form in keys), None)
    return "from" if found is None and keys & {"to", "step"} else found


def _wrong_keys(section: Section) -> Iterator[tuple[Scalar, str]]:
    """Yield each key that does not belong, with the reason."""
    form = _form(section)
    allowed = {*(FORMS[form] if form else _KEYS), *GATE_KEYS}
    for entry in section.entries:
        key = entry.key
        if key.text in allowed:
            continue
        if key.text in _KEYS:
            yield key, f"{form}: and {key.text}: do not stand in one entry"
        else:
            yield key, f"an entry has no key {key.text}{near(key.text, (*_KEYS, *GATE_KEYS))}"


def _read_form(field: Field, section: Section, form: str | None) -> SlotReading:
    if form is None:
        raise EntryError(section, f"it has none of {_NAMED_FORMS}")
    if form == "fixed":
        return _slot(field, section.place, [_value(section, "fixed")], 0)
    if form == "choose":
        return _with_preset(field, section, _choices(section))
    if form == "from":
        steps = read_steps(field, section)
        entry = _with_preset(field, section, steps.values)
        return entry._replace(slot=replace(entry.slot, step=steps.step))
    return _blank(field, section)


def _choices(section: Section) -> Sequence[Scalar]:
    node = section.get("choose")
    if not isinstance(node, Listing) or not node.items:
        raise EntryError(node or section, "choose: is a list of one option or more")
    if len(node.items) > MOST_OPTIONS:
        reason = f"choose: has {len(node.items):,} options, and {MOST_OPTIONS:,} are the most"
        raise EntryError(node, reason)
    return [_one(item, "an option of choose:") for item in node.items]


def _value(section: Section, key: str) -> Scalar:
    return _one(section.get(key) or section, f"{key}:")


def _one(node: Node, what: str) -> Scalar:
    if not isinstance(node, Scalar) or is_empty(node):
        raise EntryError(node, f"{what} is one value, and not empty")
    return node


def _with_preset(field: Field, section: Section, options: Sequence[Scalar]) -> SlotReading:
    """Read options with the one used if nobody picks.

    A preset that is not among them is added, since the form offers it and a proof must include it.
    """
    if section.get("preset") is None:
        return _slot(field, section.place, options, None)
    preset = _value(section, "preset")
    entry = _slot(field, section.place, options, None)
    index = _index_of(field, preset, entry.slot.options)
    if index is not None:
        return entry._replace(slot=replace(entry.slot, preset=index))
    entry = _slot(field, section.place, [*options, preset], len(options))
    details = {"name": in_sentence(field.name)}
    outside = Fault(
        "preset-outside-options", field.path, preset.text.strip(), preset.place, details
    )
    # One fault is enough for a preset that is unreadable and outside the options.
    read = tuple(fault for fault in entry.faults if fault.place != preset.place)
    return entry._replace(faults=(*read, outside))


def _index_of(field: Field, preset: Scalar, options: Sequence[Leaf]) -> int | None:
    """Return the index of the option that equals a preset: same text, else same value and unit."""
    texts = [option.text.strip() for option in options]
    if preset.text.strip() in texts:
        return texts.index(preset.text.strip())
    leaf = read_leaf(field, preset).leaf
    if not leaf.known or leaf.value == field.otherwise:
        return None
    meant = (leaf.value, leaf.unit)
    return next(
        (i for i, option in enumerate(options) if (option.value, option.unit) == meant), None
    )


def _blank(field: Field, section: Section) -> SlotReading:
    wanted = _value(section, "blank")
    if wanted.text not in BLANK:
        raise EntryError(wanted, f"blank: is required or optional, and not {wanted.text}")
    if field.section_keys:
        parts = ", ".join(field.section_keys)
        reason = f"only the word {field.choices[0]} can be written here; blanks are for its {parts}"
        raise EntryError(wanted, reason)
    required, label = wanted.text == "required", _label(section)
    if not any(section.get(key) for key in ("from", "to", "step")):
        return SlotReading(blank_slot(field, section.place, required=required, label=label))
    steps = read_steps(field, section)
    entry = _slot(field, section.place, steps.values, None if required else 0)
    absent = () if required else (Leaf(field.path, place=section.place),)
    options = (*absent, *entry.slot.options)
    return entry._replace(
        slot=replace(entry.slot, options=options, label=label, blank=True, step=steps.step)
    )


def _label(section: Section) -> str:
    node = section.get("label")
    if node is None or is_empty(node):
        return ""
    return _one(node, "label:").text.strip()


def _slot(field: Field, place: Place, values: Sequence[Scalar], preset: int | None) -> SlotReading:
    """Make the slot of some written values, with the faults of unreadable ones."""
    judged = [_judged(field, value) for value in values]
    spoils = field_table().sections.get(field.path, (field.path,))
    spoilt = tuple(fault._replace(spoils=spoils) for _, fault in judged if fault)
    return SlotReading(
        Slot(field.path, tuple(leaf for leaf, _ in judged), preset, place=place), spoilt
    )


def _judged(field: Field, value: Scalar) -> tuple[Leaf, Fault | None]:
    if not has_allowed_form(field, value):
        leaf = Leaf(field.path, State.UNREADABLE, text=value.text, place=value.place)
        return leaf, wrong_kind_fault(field.path, value, field_table())
    judged = read_leaf(field, value)
    return judged.leaf, judged.fault


def _unreadable_slot(
    field: Field, node: Node, reason: str, fault: Fault | None = None
) -> SlotReading:
    """Make the slot of an entry about which only its presence is known."""
    leaf = Leaf(field.path, State.UNREADABLE, place=node.place)
    found = fault or entry_fault(field.path, node, reason)
    return SlotReading(Slot(field.path, (leaf,), 0, place=node.place), (), (found,))


def _written(field: Field, texts: Iterable[str], place: Place | None) -> tuple[Leaf, ...]:
    """Make the leaves of values that the tool itself spells, at the place of their blank."""
    return tuple(
        Leaf(field.path, State.KNOWN, text, None, text, place=place, to_be_written=_is_free(field))
        for text in texts
    )


def _is_free(field: Field) -> bool:
    """True if a blank takes any words, even where they stand for a choice."""
    return field.kind in {"text", "label", "zone"} or field.otherwise is not None


def _choices_of(field: Field, place: Place | None) -> tuple[Leaf, ...]:
    """Return every choice that can be written; any other text is one unlisted text."""
    leaves = _written(field, field.choices, place)
    return tuple(
        replace(leaf, text=ANY_OTHER) if leaf.value == field.otherwise else leaf for leaf in leaves
    )


def _grids(field: Field) -> dict[str, int]:
    """Map each unit to the ticks of the finest number that may be written in it.

    The unit of the schema's example comes first.
    """
    if field.dimension is None:
        return {"": 1}
    usual = example_leaf(field).unit
    # INVARIANT: a field never has more decimals in a unit than ticks can hold, so nothing is left.
    return {
        unit: ticks_of(unit) // 10 ** field.decimals[unit]
        for unit in sorted(field.decimals, key=lambda unit: unit != usual)
    }


def _steps(field: Field) -> dict[str, int]:
    """Map each unit to the ticks of one of it; an instant is written to the minute."""
    if field.dimension is None:
        return {"": _MINUTE if field.kind == "instant" else 1}
    return {unit: ticks_of(unit) for unit in field.decimals}


_MINUTE = 60_000  # milliseconds
