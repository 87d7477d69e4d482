"""Finds faults of an order set that no pick changes: in its head, its blanks, its options.

Looks at the set as written. Never what an order made from it would break: that is proved elsewhere.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Place
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import paths_in
from orderlint.order import Leaf, State
from orderlint.order_set.free_texts import free_text_faults
from orderlint.order_set.head import FACTS, GROUP_FIELD, population_groups, review_deadline
from orderlint.order_set.model import Gate, OrderSet, Slot, order_of, preset_picks, within
from orderlint.quantity_words import format_quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.language.types import Quantity
    from orderlint.rulebook.rule import Rulebook

_THERAPY, _IRRIGATION = "therapy", "irrigation"
_ADDITIVE = "irrigation.additive"
_RATES = ("irrigation.rate", "titration.step", "titration.max")
_LEVELS = ("pause.lower", "pause.upper", "treat_above")
_SAFETY = ("notify.call", "notify.no_output_after", "notify.net_in")
_OF_PATIENT = "patient"
_LACKING = {
    "approved": "who approved it, and when",
    "review_due": "when it is to be looked at again",
}


def set_faults(order_set: OrderSet, rulebook: Rulebook, at: int) -> tuple[Fault, ...]:
    """Return the faults of a set that no pick changes, in document order.

    `at` is the instant of checking, in milliseconds since 1970 UTC.
    """
    faults = [*_of_head(order_set, at), *_of_the_whole(order_set)]
    for slot in order_set.slots.values():
        faults.extend(_of_blank(slot))
        faults.extend(_of_options(slot, order_set))
        faults.extend(_of_steps(slot, rulebook))
        faults.extend(free_text_faults(slot, order_set))
    return tuple(sorted(faults, key=lambda fault: (fault.place, fault.rule, fault.path)))


def _of_head(order_set: OrderSet, at: int) -> Iterator[Fault]:
    top = Place(order_set.file, 1, 1)
    for key in FACTS:
        if key not in order_set.head and key not in order_set.places:
            rule = "set-approval-missing" if key in _LACKING else f"set-{key}-missing"
            yield Fault(rule, key, "", top, {"lacking": _LACKING.get(key, "")})
    ends = review_deadline(order_set.head)
    if ends is not None and at >= ends:
        due = order_set.head["review_due"]
        yield Fault("set-review-overdue", "review_due", due, order_set.places["review_due"])


def _of_the_whole(order_set: OrderSet) -> Iterator[Fault]:
    yield from _mixed_populations(order_set)
    therapies = order_set.slots[_THERAPY].options
    irrigation = next((leaf for leaf in therapies if leaf.value == _IRRIGATION), None)
    if irrigation is not None:
        yield from _irrigation_preselected(order_set, irrigation)
        yield from _additive_preselected(order_set, irrigation)
        yield from _safety_left_out(order_set)


def _mixed_populations(order_set: OrderSet) -> Iterator[Fault]:
    """Find a set for two patient groups, or with orders for a group it is not for.

    A child's limits are not an adult's, so each population has a set of its own.
    """
    said = population_groups(order_set.head)
    reached = [str(leaf.value) for leaf in order_set.slots[GROUP_FIELD].options if leaf.known]
    groups = tuple(dict.fromkeys((*said, *reached)))
    if len(groups) > 1:
        path = "population" if len(said) > 1 else GROUP_FIELD
        written = ", ".join(said) if len(said) > 1 else ", ".join(dict.fromkeys(reached))
        details = {"groups": " and ".join(groups)}
        place = order_set.place_of(path)
        yield Fault("set-mixes-populations", path, written, place, details)


def _irrigation_preselected(order_set: OrderSet, irrigation: Leaf) -> Iterator[Fault]:
    """Find irrigation preset in a set that offers another therapy as well.

    A set that only irrigates preselects nothing: whoever uses it has chosen to irrigate.
    """
    slot = order_set.slots[_THERAPY]
    if all(leaf.value == _IRRIGATION for leaf in slot.options):
        return
    if slot.preset is not None and slot.options[slot.preset].value == _IRRIGATION:
        place = irrigation.place or order_set.place_of(_THERAPY)
        yield _fault("irrigation-preselected", _THERAPY, irrigation.text, place)
    section = order_set.offered_sections.get(_IRRIGATION)
    if section is not None and section.preset:
        yield _fault("irrigation-preselected", _IRRIGATION, "in", section.place)


def _additive_preselected(order_set: OrderSet, irrigation: Leaf) -> Iterator[Fault]:
    """Find an additive that is present, or must be filled in, if only irrigation is picked."""
    picked, sections_on = preset_picks(order_set)
    sections_on = {path: preset or path == _IRRIGATION for path, preset in sections_on.items()}
    leaves = order_of(order_set, {**picked, _THERAPY: irrigation}, sections_on)
    parts = [path for path in field_table().sections[_ADDITIVE] if path != _ADDITIVE]
    given = next((leaves[path] for path in parts if leaves[path].given), None)
    if given is not None:
        place = given.place or order_set.place_of(given.path)
        yield _fault("additive-preselected", _ADDITIVE, given.text, place)


def _safety_left_out(order_set: OrderSet) -> Iterator[Fault]:
    """Find safety settings that an irrigating order can omit."""
    for part in _SAFETY:
        leaves = field_table().sections.get(part, (part,))
        how = next((how for leaf in leaves for how in _left_out(order_set, leaf)), None)
        if how is not None:
            place = order_set.place_of(part)
            yield _fault("safety-part-optional", part, "", place, how=how)


def _left_out(order_set: OrderSet, path: str) -> Iterator[str]:
    """Yield how a leaf can be omitted from an order that irrigates.

    Conditions on more than the therapy are not considered: a proof finds which picks omit the leaf.
    """
    slot = order_set.slots[path]
    if any(not leaf.given for leaf in slot.options):
        yield "its blank may stay empty" if slot.blank else "the set does not speak of it"
    if order_set.sections_over(path):
        yield "the section that it stands in may be left out"
    if any(map(_hides, order_set.gates_over(path))):
        yield "it is not shown then"


def _hides(gate: Gate) -> bool:
    """True if a condition on the therapy alone hides a leaf while irrigating."""
    irrigating = {_THERAPY: Leaf(_THERAPY, State.KNOWN, _IRRIGATION)}
    is_alone = irrigating.keys() >= {*paths_in(gate.tree)}
    return is_alone and evaluate(gate.tree, irrigating) is not True


def _of_blank(slot: Slot) -> Iterator[Fault]:
    if not slot.blank or slot.place is None:  # a fact of signing that the set does not mention
        return
    if not slot.label:
        yield _fault("blank-unlabelled", slot.path, "", slot.place)
    if _is_unbounded(slot):
        yield _fault("blank-unbounded", slot.path, slot.label, slot.place)


def _is_unbounded(slot: Slot) -> bool:
    """True if any setting at all can be written in a blank.

    A fact about the patient is measured, not chosen, and a form cannot print bounds of an instant.
    A list of fluids that accepts any other text has no bounds.
    """
    field = field_table().fields[slot.path]
    if within(slot.path, _OF_PATIENT):
        return False
    return field.otherwise is not None or (slot.span is not None and field.kind == "quantity")


def _of_options(slot: Slot, order_set: OrderSet) -> Iterator[Fault]:
    options = [leaf for leaf in slot.options if leaf.given]
    if len(options) < 2 or slot.place is None:
        return
    units = tuple(dict.fromkeys(leaf.unit for leaf in options if leaf.unit))
    if len(units) > 1:
        place = next(leaf.place for leaf in options if leaf.unit == units[1]) or slot.place
        written = ", ".join(leaf.text for leaf in options)
        yield _fault("options-in-mixed-units", slot.path, written, place, units=" and ".join(units))
    if not slot.blank:
        yield from _duplicates(slot, options)
        yield from _not_first(slot, order_set)


def _duplicates(slot: Slot, options: list[Leaf]) -> Iterator[Fault]:
    """Find two equal options: a number in another unit, a choice in another spelling."""
    field = field_table().fields[slot.path]
    seen: dict[int | str, Leaf] = {}
    for leaf in options:
        first = seen.setdefault(field.comparison_key(leaf.value, leaf.text, leaf.unit), leaf)
        if first is not leaf and leaf.place is not None:
            yield _fault("options-duplicated", slot.path, leaf.text, leaf.place, first=first.text)


def _not_first(slot: Slot, order_set: OrderSet) -> Iterator[Fault]:
    """Find a list whose preset is not its first option.

    Sorted numbers are accepted: people look for them in that order.
    """
    if not slot.preset or slot.step is not None or _is_sorted(slot):
        return
    outside = {f.path for f in order_set.faults if f.rule == "preset-outside-options"}
    if slot.path not in outside and slot.place is not None:
        preset = slot.options[slot.preset]
        first = slot.options[0].text
        place = preset.place or slot.place
        yield _fault("preferred-not-first", slot.path, preset.text, place, first=first)


def _is_sorted(slot: Slot) -> bool:
    values = [leaf.value for leaf in slot.options if isinstance(leaf.value, int)]
    return len(values) == len(slot.options) and values in (
        sorted(values),
        sorted(values, reverse=True),
    )


def _of_steps(slot: Slot, rulebook: Rulebook) -> Iterator[Fault]:
    """Find stepped options that the controller cannot be set to."""
    first = next((leaf for leaf in slot.options if leaf.known), None)
    if slot.step is None or first is None or first.unit is None or slot.place is None:
        return
    settable = _settable(slot.path, first.unit, rulebook)
    if settable is None or not isinstance(first.value, int):
        return
    if first.value % settable.ticks or slot.step % settable.ticks:
        yield _fault(
            "step-not-settable",
            slot.path,
            first.text,
            slot.place,
            step=format_quantity(slot.step, first.unit),
            settable=settable.text,
        )


def _settable(path: str, unit: str, rulebook: Rulebook) -> Quantity | None:
    """Return the controller's step for a setting in a unit; None if the policy has none.

    A level is compared in the unit in which it is written; a different display unit is a finding of
    the order.
    """
    name = "rate_step" if path in _RATES else "level_step" if path in _LEVELS else None
    value = rulebook.values.get(name) if name else None
    return value.quantity_for(unit) if value else None


def with_controller_steps(order_set: OrderSet, rulebook: Rulebook) -> OrderSet:
    """The set, in which an unbounded blank for a setting of the controller has its steps."""
    slots = {path: _with_step(slot, rulebook) for path, slot in order_set.slots.items()}
    return replace(order_set, slots=slots)


def _with_step(slot: Slot, rulebook: Rulebook) -> Slot:
    if slot.span is None:
        return slot
    found = {unit: _settable(slot.path, unit, rulebook) for unit in slot.span.grids}
    steps = {unit: step.ticks for unit, step in found.items() if step is not None}
    return replace(slot, span=replace(slot.span, steps={**slot.span.steps, **steps}))


def _fault(rule: str, path: str, written: str, place: Place, **details: str) -> Fault:
    name = in_sentence(field_table().display_name(path))
    return Fault(rule, path, written, place, {"name": name, **details})
