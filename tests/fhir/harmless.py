"""The elements of R4 that leave what may be started as it is, each with the reason.

Judged by the standard's own definition of each element. What is on no list must be told to
whoever checks the order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

RESOURCES = ("Bundle", "DeviceRequest", "MedicationRequest", "Medication")
DATA_TYPES = (
    *("Identifier", "CodeableConcept", "Coding", "Quantity", "Reference", "Period", "Annotation"),
    *("Ratio", "Dosage", "Dosage.doseAndRate", "Bundle.entry", "DeviceRequest.parameter"),
)


def _of(paths: str, reason: str) -> dict[str, str]:
    return dict.fromkeys(paths.split(), reason)


HARMLESS: Mapping[str, str] = {
    **dict.fromkeys((f"{each}.meta" for each in RESOURCES), "when a server last wrote it"),
    **dict.fromkeys((f"{each}.language" for each in RESOURCES), "the language of its texts"),
    **dict.fromkeys((f"{each}.identifier" for each in RESOURCES), "a number of a business"),
    **dict.fromkeys((f"{each}.id" for each in DATA_TYPES), "a name within the file"),
    **_of("Bundle.id Bundle.entry.link", "a name, or an address, of what is here"),
    **_of("Bundle.timestamp Bundle.signature Bundle.total", "about the collection"),
    **_of("Bundle.link", "an address of this page"),
    **_of("Bundle.entry.search", "why a search found it"),
    **_of("Identifier.use Identifier.type Identifier.assigner", "who numbered it"),
    **_of("Identifier.period", "how long the number is in use"),
    **_of("Coding.version Coding.userSelected Coding.display", "about the code, which stays"),
    **_of("CodeableConcept.text", "a site's own name of a code, or a reason's"),
    **_of("CodeableConcept.coding", "a code beside the text of a reason"),
    **_of("Reference.type", "of what kind what is referred to is"),
    **_of("Reference.reference Reference.identifier", "who asks for it, by another name"),
    **_of("Annotation.authorReference Annotation.authorString Annotation.time", "who wrote a note"),
    **_of("DeviceRequest.priority MedicationRequest.priority", "how soon, not what"),
    **_of("DeviceRequest.performer DeviceRequest.performerType", "who carries it out"),
    **_of("MedicationRequest.performer MedicationRequest.performerType", "who gives it"),
    **_of("MedicationRequest.recorder", "who typed it"),
    **_of("DeviceRequest.encounter MedicationRequest.encounter", "during which stay"),
    **_of("DeviceRequest.insurance MedicationRequest.insurance", "who pays"),
    **_of("DeviceRequest.relevantHistory MedicationRequest.eventHistory", "what has been"),
    **_of("DeviceRequest.basedOn MedicationRequest.basedOn", "what it carries out"),
    **_of(
        "MedicationRequest.category MedicationRequest.dispenseRequest", "how pharmacy supplies it"
    ),
    **_of("Medication.status", "in use"),
    **_of("Medication.manufacturer Medication.batch", "of whom, and which lot"),
    **_of("Dosage.sequence", "the place of the only instruction"),
    **_of("Quantity.system", "of the 1 that a bag's amount is for"),
}
"""By path in the type that holds it."""
