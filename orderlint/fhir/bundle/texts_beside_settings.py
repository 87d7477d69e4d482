"""The free texts of a resource beside the settings, and which of them say the same as the settings.

A text is understood whole, clause by clause, or it is not. Never what of it differs.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from orderlint.fhir.bundle.merged_settings import DISAGREE, disagreement, key_of
from orderlint.fields import field_table
from orderlint.finding import NotUnderstood
from orderlint.sentences.patterns import compiled
from orderlint.sentences.text_reading import holds_setting, read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.fhir.element import Element
    from orderlint.finding import Fault
    from orderlint.order import Leaf, Order
    from orderlint.reading.node import Scalar
    from orderlint.sentences.patterns import Pattern, Value
    from orderlint.sentences.text_reading import TextReading

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


def notes_not_understood(
    notes: Iterable[tuple[str, Scalar]], order: Order
) -> Iterator[NotUnderstood]:
    """The free texts that say anything but what the settings say, and are not asked about whole."""
    for name, text in notes:
        reading = _reading(name, text)
        differing = _differing(reading, order)
        if reading.not_understood or len(differing) > len(_asked(name, differing, order)):
            may_hold = holds_setting(text.text)
            why = "free text beside the settings"
            yield NotUnderstood(text.place.element, text.text, why, text.place, may_hold, name)


def dosage_faults(notes: Iterable[tuple[str, Scalar]], order: Order) -> Iterator[Fault]:
    """Where a dosage text that is understood whole says otherwise than a setting."""
    for name, text in notes:
        reading = _reading(name, text)
        if reading.not_understood:
            continue
        for value, leaf in _asked(name, _differing(reading, order), order):
            one = (leaf.text, leaf.place or text.place)
            yield disagreement(DISAGREE, value.path, one, (value.text, text.place))


def _asked(name: str, differing: Iterable[Value], order: Order) -> list[tuple[Value, Leaf]]:
    """Those values of a dosage text that contradict a setting, which the drug part may not."""
    fields = field_table().fields
    return [
        (value, leaf)
        for value in differing
        if name == DOSAGE_TEXT and fields[value.path].kind in {"quantity", "choice"}
        if (leaf := order.leaves[value.path]).known
    ]


def _differing(reading: TextReading, order: Order) -> list[Value]:
    """The values of a text that are not those of the settings."""
    return [
        value
        for each in reading.understood
        for value in each.values
        if not order.leaves[value.path].known
        or key_of(value.path, value.text) != key_of(value.path, order.leaves[value.path].text)
    ]


def _reading(name: str, text: Scalar) -> TextReading:
    return read_text(text.text, _dosages() if name == DOSAGE_TEXT else ())


@functools.cache
def _dosages() -> tuple[Pattern, ...]:
    return tuple(map(compiled, _DOSAGES))


def free_texts(resource: Element) -> Iterator[tuple[str, Scalar]]:
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


def _named(name: str, text: Scalar | None) -> Iterator[tuple[str, Scalar]]:
    if text is not None:
        yield name, text
