"""Reads a document of the kind `order-set`: what it can yield, with all its faults.

Walks the tree and joins what the other readers return. Never one entry's form, never a rule.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Fault, Place, Refused
from orderlint.order import OPTIONAL_SIGNING_FIELDS, SIGNING_FIELDS, Leaf, State
from orderlint.order_set.head import read_head
from orderlint.order_set.model import OfferedSection, OrderSet, Slot
from orderlint.order_set.slot_reader import (
    GATE_KEYS,
    LIMITS,
    SHOWN_WHEN,
    blank_slot,
    entry_fault,
    is_slot_entry,
    read_slot,
)
from orderlint.order_set.visibility import WrittenGate, read_gates
from orderlint.reading.node import KeyValue, Node, Scalar, Section
from orderlint.rulebook.yaml_fields import most_like, near
from orderlint.schema_check import LONGEST_KEY, MOST_GUESSED, is_empty, unknown_key_fault

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.surface import Surface
    from orderlint.reading import Document

OFFERED = "offered"
SECTION_KEYS = (*GATE_KEYS, OFFERED)
"""Keys that a section may have besides its settings."""
FILE_KEYS = frozenset({"document", "format"})
"""Keys at the top of an order, hence at the top of a set and not in its order tree."""
PRESET_WORDS = {"in": True, "out": False}


@dataclass(slots=True)
class _SetBeingRead:
    """What has been read so far."""

    order: Section
    slots: dict[str, Slot] = field(default_factory=dict)
    offered_sections: dict[str, OfferedSection] = field(default_factory=dict)
    conditions: list[WrittenGate] = field(default_factory=list)
    places: dict[str, Place] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unsettled: list[Fault] = field(default_factory=list)


def read_order_set(document: Document, derived: Mapping[str, Surface]) -> OrderSet:
    """Read an order set; `derived` are the rulebook's facts, which conditions may name.

    Raises Refused only if there is no order in it. Everything else that is wrong is in `faults`.
    """
    order = document.root.get("order")
    if order is None or is_empty(order):
        message = "`order:` is missing. Under it stands the order that is made from the set."
        raise Refused(message, order.place if order else document.root.place)
    if not isinstance(order, Section):
        raise Refused("`order:` must be settings with names, as in an order.", order.place)
    draft = _SetBeingRead(order, places={"": order.place})
    _walk(draft, order, "")
    head = read_head(document.root)
    gates = read_gates(draft.conditions, derived)
    unsettled = (*draft.unsettled, *gates.unsettled, *document.not_understood)
    faults = sorted((*head.faults, *draft.faults, *unsettled), key=lambda f: (f.place, f.rule))
    spoilt = {path for fault in unsettled for path in fault.spoils}
    return OrderSet(
        document.file,
        head.facts,
        {**draft.slots, **_unmentioned_slots(draft.slots, spoilt)},
        draft.offered_sections,
        gates.gates,
        tuple(faults),
        {**draft.places, **head.places},
        unsettled,
    )


def _unmentioned_slots(slots: Mapping[str, Slot], spoilt: set[str]) -> Mapping[str, Slot]:
    """Return the slots of leaves that the set does not mention, or that were unreadable."""
    found = {}
    for path, at in field_table().fields.items():
        if path in slots:
            continue
        if path in spoilt:
            found[path] = Slot(path, (Leaf(path, State.UNREADABLE),), 0)
        elif path in SIGNING_FIELDS:
            found[path] = blank_slot(at, None, required=path not in OPTIONAL_SIGNING_FIELDS)
        else:
            found[path] = Slot(path, (Leaf(path),), 0)
    return found


def _walk(draft: _SetBeingRead, section: Section, path: str) -> None:
    keys = field_table().keys[path]
    for entry in section.entries:
        key = entry.key.text
        if path and key in GATE_KEYS:
            _read_condition(draft, path, section, key)
        elif path and key == OFFERED:
            _offer(draft, path, entry.value)
        elif key in keys and keys[key] not in FILE_KEYS:
            _read_at(draft, keys[key], entry.value)
        else:
            draft.unsettled.append(_unknown(draft, path, entry))


def _read_at(draft: _SetBeingRead, path: str, node: Node) -> None:
    """Read a leaf's entry or a section. `irrigation.additive` may be either; its keys decide."""
    table = field_table()
    draft.places[path] = node.place
    leaf, is_section = table.fields.get(path), path in table.section_names
    if is_empty(node):
        return  # a key without a value counts as left out
    if is_section and isinstance(node, Section) and not (leaf and is_slot_entry(node)):
        _walk(draft, node, path)
    elif leaf is None:
        reason = "one value or a list stands here, and it is a group of settings"
        spoils = table.sections[path]
        draft.unsettled.append(entry_fault(path, node, reason, spoils))
    else:
        read = read_slot(leaf, node)
        draft.slots[path] = read.slot
        draft.faults.extend(read.faults)
        draft.unsettled.extend(read.unsettled)
        if isinstance(node, Section):
            for key in GATE_KEYS:
                _read_condition(draft, path, node, key)


def _read_condition(draft: _SetBeingRead, path: str, section: Section, key: str) -> None:
    """Note the condition at a key, with the limits beside it; limits alone are a fault."""
    condition, limits = section.get(SHOWN_WHEN), section.get(LIMITS)
    if key == SHOWN_WHEN and condition is not None:
        draft.conditions.append(WrittenGate(path, condition, limits))
    elif key == LIMITS and condition is None and limits is not None:
        reason = f"{LIMITS}: has numbers for {SHOWN_WHEN}:, and there is none beside it"
        draft.unsettled.append(entry_fault(path, limits, reason))


def _offer(draft: _SetBeingRead, path: str, node: Node) -> None:
    preset = node.get("preset") if isinstance(node, Section) else None
    if not isinstance(preset, Scalar) or preset.text not in PRESET_WORDS:
        reason = "offered: has preset: in or preset: out"
        draft.unsettled.append(entry_fault(path, preset or node, reason))
        return
    assert isinstance(node, Section)
    draft.offered_sections[path] = OfferedSection(path, PRESET_WORDS[preset.text], node.place)
    for entry in node.entries:
        key = entry.key
        if key.text != "preset":
            reason = f"offered: has no key {key.text}{near(key.text, ('preset',))}"
            draft.unsettled.append(entry_fault(path, key, reason))


def _unknown(draft: _SetBeingRead, path: str, entry: KeyValue) -> Fault:
    """Make the fault of a key that no section of this name can have."""
    key = entry.key
    if not path and key.text in FILE_KEYS:
        reason = f"{key.text}: stands on top of the file, and not under order:"
        return entry_fault(key.text, key, reason)
    meant = most_like(key.text, SECTION_KEYS) if path and len(key.text) <= LONGEST_KEY else None
    if meant:
        return entry_fault(path, key, f"there is no {key.text}:; did you mean {meant}:?")
    guess = len(draft.unsettled) < MOST_GUESSED
    return unknown_key_fault(path, entry, draft.order, field_table(), guess=guess)
