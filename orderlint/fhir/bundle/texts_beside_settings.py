"""The free texts of a resource beside the settings, and which of them say the same as the settings.

A text is understood whole, clause by clause, or it is not. Never what of it differs.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, TypeAlias

from orderlint.fhir.bundle.merged_settings import DISAGREE, Merged, disagreement, key_of
from orderlint.fields import field_table
from orderlint.finding import Fault, NotUnderstood
from orderlint.leaf_reader import leaf_of
from orderlint.sentences.patterns import Pattern, Value, compile_pattern
from orderlint.sentences.text_reading import TextReading, holds_setting, read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.fhir.bundle.resources import PlacedResource
    from orderlint.fhir.element import Element
    from orderlint.order import Order
    from orderlint.reading.node import Scalar

    Named: TypeAlias = tuple[str, Scalar]
    """A free text, after what it is called."""

DOSAGE_TEXT = "dosage text"
_CONTINUOUS = "[continuous|continuously|as [a] continuous (irrigation|infusion)]"
_DOSAGES = (
    f"[run|give|infuse|administer] [at] <irrigation.rate!> {_CONTINUOUS}",
    f"[run|give|infuse|administer] <irrigation.fluid> [at] <irrigation.rate!> {_CONTINUOUS}",
    "[continuous] [intraventricular] (irrigation|infusion) [at|of|:] <irrigation.rate!>",
)
"""What a dosage text may say beside what a prescriber's sentences do: a dosage is of one fluid, so
that a rate needs no name there.
"""


def notes_not_understood(notes: Iterable[Named], order: Order) -> Iterator[NotUnderstood]:
    """The free texts that say anything but what the settings say."""
    known = {path: leaf.text for path, leaf in order.leaves.items() if leaf.known}
    for name, text in notes:
        reading = _reading(name, text)
        if reading.not_understood or _differing(reading, known):
            may_hold = holds_setting(text.text)
            why = "free text beside the settings"
            yield NotUnderstood(text.place.element, text.text, why, text.place, may_hold, name)


def held_against_dosages(
    said: Merged, own: Sequence[PlacedResource]
) -> tuple[Merged, tuple[Named, ...]]:
    """What the parts of an order say, without what a dosage text that is understood whole
    contradicts; and their free texts, but those of which all that differs is asked about so.
    """
    known = {p: value.text for p, value in said.values.items() if _is_known(p, value.text)}
    faults: list[Fault] = []
    left = []
    for name, text in (each for part in own for each in _free_texts(part.resource)):
        reading = _reading(name, text) if name == DOSAGE_TEXT else None
        whole = reading if reading and not reading.not_understood else None
        differing = _differing(whole, known) if whole else []
        asked = [value for value in differing if value.path in known]
        for path, other in ((value.path, text._replace(text=value.text)) for value in asked):
            faults.append(disagreement(DISAGREE, path, said.values[path], other))
        if not asked or len(asked) < len(differing):
            left.append((name, text))
    return said.without(faults), tuple(left)


def _is_known(path: str, text: str) -> bool:
    """Whether a value of a quantity or a choice can be read; of no text can two be held equal."""
    field = field_table().fields[path]
    return field.kind in {"quantity", "choice"} and leaf_of(path, text).known


def _differing(reading: TextReading, known: Mapping[str, str]) -> list[Value]:
    """The values of a text that are not those of the settings that are known."""
    return [
        value
        for each in reading.understood
        for value in each.values
        if value.path not in known
        or key_of(value.path, value.text) != key_of(value.path, known[value.path])
    ]


def _reading(name: str, text: Scalar) -> TextReading:
    return read_text(text.text, _dosages() if name == DOSAGE_TEXT else ())


@functools.cache
def _dosages() -> tuple[Pattern, ...]:
    return tuple(map(compile_pattern, _DOSAGES))


def _free_texts(resource: Element) -> Iterator[Named]:
    """The free texts of a request beside its settings, each with what it is called."""
    is_drug = resource.resource_type == "MedicationRequest"
    notes = resource.items("note") if is_drug else resource.items("note")[1:]
    for note in notes:
        yield from _named("note of the drug part" if is_drug else "note", note.scalar("text"))
    yield from _named("instructions to the patient", resource.scalar("patientInstruction"))
    for dosage in resource.items("dosageInstruction"):
        yield from _named(DOSAGE_TEXT, dosage.scalar("text"))
        yield from _named("instructions to the patient", dosage.scalar("patientInstruction"))
        for each in dosage.items("additionalInstruction"):
            for text in (each.scalar("text"), *(c.scalar("display") for c in each.items("coding"))):
                yield from _named("additional instruction", text)


def _named(name: str, text: Scalar | None) -> Iterator[Named]:
    if text is not None:
        yield name, text
