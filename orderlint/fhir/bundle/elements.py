"""Which elements of FHIR R4 are read, which are known to change nothing, and which are left over.

What is on no list is not understood. Never what a value says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fhir.element import MODIFIERS, Element, as_written, fits, modifiers_in, read_element
from orderlint.finding import Fault, NotUnderstood
from orderlint.reading.node import KeyValue, Listing, Node, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


_RESOURCE = read_element("resourceType", meta="Meta", text="Narrative", contained="Resource*")
_REQUEST = {
    **_RESOURCE,
    **read_element("status", "intent", "authoredOn", note="Annotation*"),
    **read_element(subject="Reference", requester="Reference", encounter="Reference"),
    **read_element(reasonCode="CodeableConcept*"),
}
_TIMES = read_element("occurrenceDateTime", occurrencePeriod="Period")
_AS_NEEDED = read_element("asNeededBoolean", asNeededCodeableConcept="CodeableConcept")

READ: Mapping[str, Mapping[str, str]] = {
    "Bundle": read_element("resourceType", "type", meta="Meta", entry="Resource*", link="Link*"),
    "Link": read_element("relation"),
    "Entry": read_element(resource="Resource", request="Request", response="Response"),
    "Request": read_element("method"),
    "Response": read_element("status"),
    "Meta": read_element(tag="Tag*"),
    "Tag": read_element("code"),
    "Narrative": read_element("status"),
    "DeviceRequest": {
        **_REQUEST,
        **_TIMES,
        **read_element(groupIdentifier="Identifier", codeCodeableConcept="CodeableConcept"),
        **read_element(parameter="Parameter*", priorRequest="Reference*"),
    },
    "Parameter": {
        **read_element("valueBoolean", "valueString", code="CodeableConcept"),
        **read_element(valueQuantity="Quantity", valueCodeableConcept="CodeableConcept"),
        **read_element(valueRange="Range", valueRatio="Ratio"),
    },
    "ServiceRequest": {
        **_REQUEST,
        **_TIMES,
        **_AS_NEEDED,
        **read_element("doNotPerform", "patientInstruction", requisition="Identifier"),
        **read_element(code="CodeableConcept", orderDetail="OrderDetail*", replaces="Reference*"),
    },
    "OrderDetail": read_element("text", coding="Coding*", parameter="Parameter*"),
    "MedicationRequest": {
        **_REQUEST,
        **read_element("doNotPerform", "reportedBoolean", reportedReference="Reference"),
        **read_element(groupIdentifier="Identifier", priorPrescription="Reference"),
        **read_element(medicationCodeableConcept="CodeableConcept"),
        **read_element(medicationReference="Reference", dosageInstruction="Dosage*"),
        **read_element(substitution="Substitution", dispenseRequest="Supply"),
    },
    "Supply": {},
    "Dosage": {
        **_AS_NEEDED,
        **read_element("text", "patientInstruction", additionalInstruction="CodeableConcept*"),
        **read_element(timing="Timing", route="CodeableConcept", doseAndRate="DoseAndRate*"),
        **read_element(maxDosePerPeriod="Ratio"),
    },
    "DoseAndRate": read_element(rateQuantity="Quantity", rateRatio="Ratio"),
    "Substitution": read_element("allowedBoolean"),
    "Medication": {
        **_RESOURCE,
        **read_element("status", code="CodeableConcept", form="CodeableConcept", batch="Batch"),
        **read_element(amount="Ratio", ingredient="Ingredient*"),
    },
    "Batch": {},
    "Ingredient": read_element("isActive", itemCodeableConcept="CodeableConcept", strength="Ratio"),
    "CodeableConcept": read_element("text", coding="Coding*"),
    "Coding": read_element("system", "code", "display"),
    "Quantity": read_element("value", "comparator", "unit", "system", "code"),
    "Ratio": read_element(numerator="Quantity", denominator="Quantity"),
    "Range": read_element(low="Quantity", high="Quantity"),
    "Identifier": read_element("system", "value"),
    "Reference": read_element("reference", "display", identifier="Identifier"),
    "Period": read_element("start", "end"),
    "Annotation": read_element("text"),
    "Timing": {},
}
"""Type of element → JSON name → type of what is there: '' is one value, a star marks a list."""

_SUPPLY = "says how it is supplied or paid for"
_WHO = "says who acts or where, and no setting"
_BASED = "names what the order carries out, and it stands by itself"
_RECORD = "names or dates the record, not the order"
_DONE = "says what was done with the record"
_OF_REQUEST = {
    **dict.fromkeys(("language", "identifier"), _RECORD),
    **dict.fromkeys(("performer", "performerType"), _WHO),
    "basedOn": _BASED,
    "insurance": _SUPPLY,
    "priority": "says how soon, and changes no setting",
}

EVERYWHERE: Mapping[str, str] = {"id": "is a name within the file"}
"""What any element may have, and why it changes nothing."""

HARMLESS: Mapping[str, Mapping[str, str]] = {
    "Bundle": {
        **dict.fromkeys(("language", "identifier", "timestamp", "total"), _RECORD),
        "signature": "is not checked here; who relies on it checks it",
    },
    "Link": {"url": _RECORD},
    "Entry": {
        **dict.fromkeys(("fullUrl", "link"), _RECORD),
        "search": "says why the entry was found",
    },
    "Request": dict.fromkeys(
        ("url", "ifNoneMatch", "ifModifiedSince", "ifMatch", "ifNoneExist"), _RECORD
    ),
    "Response": dict.fromkeys(("location", "etag", "lastModified"), _RECORD),
    "Meta": dict.fromkeys(("versionId", "lastUpdated", "source", "profile", "security"), _RECORD),
    "Tag": dict.fromkeys(("system", "version", "display", "userSelected"), _RECORD),
    "Narrative": {"div": "shows to people what stands in the elements"},
    "DeviceRequest": {**_OF_REQUEST, "relevantHistory": _DONE},
    "ServiceRequest": {
        **_OF_REQUEST,
        **dict.fromkeys(("locationCode", "locationReference"), _WHO),
        "category": _RECORD,
        "relevantHistory": _DONE,
    },
    "MedicationRequest": {
        **_OF_REQUEST,
        "category": _RECORD,
        "recorder": _WHO,
        "eventHistory": _DONE,
    },
    "Supply": dict.fromkeys(
        ("initialFill", "dispenseInterval", "numberOfRepeatsAllowed", "quantity", "performer"),
        _SUPPLY,
    ),
    "Dosage": {"sequence": "counts the dosages; more than one is asked about"},
    "Substitution": {"reason": "gives the reason of what is read"},
    "Medication": {**dict.fromkeys(("language", "identifier"), _RECORD), "manufacturer": _SUPPLY},
    "Batch": {"lotNumber": _SUPPLY},
    "Coding": {"version": "is that of the code system", "userSelected": "says how it was chosen"},
    "Identifier": dict.fromkeys(("use", "type", "period", "assigner"), _RECORD),
    "Reference": {"type": "repeats the type of what is referred to"},
    "Annotation": dict.fromkeys(("authorReference", "authorString", "time"), _WHO),
}
"""Type of element → JSON name → why it changes nothing of an order."""

BYSTANDERS: Mapping[str, str] = {
    **dict.fromkeys(("Patient", "Group", "RelatedPerson"), "says whom it is about"),
    **dict.fromkeys(("Practitioner", "PractitionerRole", "CareTeam", "Organization"), _WHO),
    **dict.fromkeys(("Encounter", "EpisodeOfCare", "Location", "HealthcareService"), _WHO),
    **dict.fromkeys(("Coverage", "Account"), _SUPPLY),
    "Provenance": "says by whom a record was made",
}
"""Types of resources that may stand in a Bundle and change nothing of an order, each with why."""


def left_over(element: Element, kind: str) -> Iterator[NotUnderstood | Fault]:
    """What is not understood in an element of this type, and in those that are read in it."""
    known, harmless = READ[kind], HARMLESS.get(kind, {})
    for entry in element.node.entries:
        key = entry.key.text
        inner = known.get(key)
        if inner is not None and _is_read(entry.value, inner):
            continue
        if key in MODIFIERS:
            yield _modifier(element, entry)
        elif inner is not None:
            yield from _inside(element, entry, inner)
        elif key in harmless or key in EVERYWHERE:
            yield from faults_of_modifiers(entry.value, element.below(key))
        elif not (key.startswith("_") and _is_name_alone(entry.value)):
            beside = "stands beside a value, or in its place"
            why = beside if key.startswith("_") else "is not understood"
            yield not_understood(element, entry, why)


def _is_read(node: Node, kind: str) -> bool:
    """Whether a node is of this type and all in it is read, as most is: then no path is made."""
    if isinstance(node, Scalar):
        return not kind
    if isinstance(node, Listing):
        return kind.endswith("*") and all(_is_read(item, kind[:-1]) for item in node.items)
    if kind not in READ:
        return False
    for key, value in node.entries:
        inner = READ[kind].get(key.text)
        if inner is None or not _is_read(value, inner):
            return False
    return True


def faults_of_modifiers(node: Node, path: str) -> Iterator[Fault]:
    """What may change a meaning, within an element that else changes nothing."""
    return (_modifier(element, entry) for element, entry in modifiers_in(node, path))


def _modifier(element: Element, entry: KeyValue) -> Fault:
    place = element.place_of(entry)
    return Fault("fhir-modifier-not-understood", "", as_written(entry.value), place)


def _is_name_alone(node: Node) -> bool:
    """Whether what stands beside a value gives it a name within the file, and nothing else."""
    return isinstance(node, Section) and all(entry.key.text == "id" for entry in node.entries)


def _inside(element: Element, entry: KeyValue, kind: str) -> Iterator[NotUnderstood | Fault]:
    if not fits(entry.value, kind):
        yield not_understood(element, entry, "is not written as the standard has it")
    elif kind.rstrip("*") != "Resource":  # which is looked at by itself, as an entry with one is
        for each in element.sections(entry.key.text):
            yield from left_over(each, kind.rstrip("*"))


def not_understood(element: Element, entry: KeyValue, why: str) -> NotUnderstood:
    """An entry of an element that is not understood."""
    place = element.place_of(entry)
    return NotUnderstood(place.element, as_written(entry.value), why, place)


def whole_not_understood(element: Element, why: str, *, may_hold: bool = True) -> NotUnderstood:
    """An element that is not understood as a whole."""
    return NotUnderstood(element.path, as_written(element.node), why, element.place, may_hold)
