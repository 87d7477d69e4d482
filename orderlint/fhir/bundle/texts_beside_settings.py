"""The free texts of a resource beside the settings, and which of them say the same as the settings.

A text is understood whole, clause by clause, or it is not. Never what of it differs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fhir.bundle.merged_settings import key_of
from orderlint.finding import NotUnderstood
from orderlint.sentences.text_reading import holds_setting, read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.fhir.element import Element
    from orderlint.order import Order
    from orderlint.reading.node import Scalar


def notes_not_understood(
    notes: Iterable[tuple[str, Scalar]], order: Order
) -> Iterator[NotUnderstood]:
    """The free texts that say anything but what the settings say."""
    for name, text in notes:
        if not _says_the_same(text, order):
            may_hold = holds_setting(text.text)
            why = "free text beside the settings"
            yield NotUnderstood(text.place.element, text.text, why, text.place, may_hold, name)


def _says_the_same(text: Scalar, order: Order) -> bool:
    reading = read_text(text.text)
    values = [value for each in reading.understood for value in each.values]
    return not reading.not_understood and all(
        order.leaves[value.path].known
        and key_of(value.path, value.text) == key_of(value.path, order.leaves[value.path].text)
        for value in values
    )


def free_texts(resource: Element) -> Iterator[tuple[str, Scalar]]:
    """The free texts of a request beside its settings, each with what it is called."""
    is_drug = resource.resource_type == "MedicationRequest"
    notes = resource.items("note") if is_drug else resource.items("note")[1:]
    for note in notes:
        yield from _named("note of the drug part" if is_drug else "note", note.scalar("text"))
    yield from _named("instructions to the patient", resource.scalar("patientInstruction"))
    for dosage in resource.items("dosageInstruction"):
        yield from _named("dosage text", dosage.scalar("text"))
        yield from _named("instructions to the patient", dosage.scalar("patientInstruction"))
        for each in dosage.items("additionalInstruction"):
            for text in (each.scalar("text"), *(c.scalar("display") for c in each.items("coding"))):
                yield from _named("additional instruction", text)


def _named(name: str, text: Scalar | None) -> Iterator[tuple[str, Scalar]]:
    if text is not None:
        yield name, text
