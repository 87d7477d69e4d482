"""Changes to whom an order is for, to what state it is in, and to what its parts mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fhir.changes import (
    MODIFIER,
    OTHER,
    PATIENT,
    for_both,
    put,
    without,
)
from fhir.parts import add, amount, device, dosage, fluid, medication, setting, subjects

if TYPE_CHECKING:
    from fhir.bundles import Json
    from fhir.changes import Change

TASKS = "http://hl7.org/fhir/CodeSystem/task-code"
OPERATIONS = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"
SUBSETTED = {
    "system": "http://terminology.hl7.org/CodeSystem/v3-ObservationValue",
    "code": "SUBSETTED",
}
MORE = {
    "status": "additional",
    "div": '<div xmlns="http://www.w3.org/1999/xhtml">not before the scan</div>',
}
"""A narrative that says what no element says."""


def _patient(name: str) -> Json:
    return {"resourceType": "Patient", "id": "p", "name": [{"text": name}]}


WHO: dict[str, Change] = {
    "another subject of the drug part": lambda b: subjects(b, PATIENT, OTHER),
    "another subject by name": put(fluid, subject={"display": "the patient in the next bed"}),
    "another subject by identifier": lambda b: subjects(
        b, {"identifier": {"value": "1"}}, {"identifier": {"value": "2"}}
    ),
    "a group as subject": lambda b: subjects(b, *[{"reference": "Group/1"}] * 2),
    "another requester of the drug part": put(fluid, requester={"display": "night registrar"}),
    "another group of the drug part": put(fluid, groupIdentifier={"value": "demo-0418"}),
    "another encounter of the drug part": lambda b: (
        device(b).update(encounter={"reference": "Encounter/1"}),
        fluid(b).update(encounter={"reference": "Encounter/2"}),
    ),
    "another server's patient": lambda b: subjects(
        b,
        {"reference": "https://a.example/Patient/1"},
        {"reference": "https://b.example/Patient/1"},
    ),
    "one name and two identifiers": lambda b: subjects(
        b,
        {"display": "A", "identifier": {"value": "1"}},
        {"display": "A", "identifier": {"value": "2"}},
    ),
    "one reference and two identifiers": lambda b: subjects(
        b, {**PATIENT, "identifier": {"value": "1"}}, {**PATIENT, "identifier": {"value": "2"}}
    ),
    "one reference and two names": lambda b: subjects(
        b, {**PATIENT, "display": "A"}, {**PATIENT, "display": "B"}
    ),
    "no subject": without(device, "subject"),
    "no subject of the drug part": without(fluid, "subject"),
    "two requesters of one name": lambda b: (
        device(b).update(requester={"reference": "Practitioner/1", "display": "A"}),
        fluid(b).update(requester={"reference": "Practitioner/2", "display": "A"}),
    ),
    "groups of two systems": lambda b: (
        device(b)["groupIdentifier"].update(system="https://a.example/groups"),
        fluid(b)["groupIdentifier"].update(system="https://b.example/groups"),
    ),
    "the patient dead": lambda b: add(
        b, {"resourceType": "Patient", "id": "1", "deceasedBoolean": True}
    ),
    "the patient's record no longer in use": lambda b: add(
        b, {"resourceType": "Patient", "id": "1", "active": False}
    ),
    "patients of two servers": lambda b: (
        b["entry"][0].update(fullUrl="https://a.example/DeviceRequest/1"),
        b["entry"][1].update(fullUrl="https://b.example/MedicationRequest/2"),
        subjects(b, PATIENT, PATIENT),
    ),
    "two contained patients of one id": lambda b: (
        device(b).update(contained=[_patient("A")], subject={"reference": "#p"}),
        fluid(b)["contained"].append(_patient("B")),
        fluid(b).update(subject={"reference": "#p"}),
    ),
    "a subject that is a device": lambda b: subjects(b, *[{"type": "Device", "display": "x"}] * 2),
    "a subject that is a request": lambda b: subjects(
        b, *[{"reference": b["entry"][1]["fullUrl"]}] * 2
    ),
}
STATE: dict[str, Change] = {
    "the drug part stopped": put(fluid, status="stopped"),
    "the drug part cancelled": put(fluid, status="cancelled"),
    "the drug part on hold": put(fluid, status="on-hold"),
    "the drug part completed": put(fluid, status="completed"),
    "the drug part entered in error": put(fluid, status="entered-in-error"),
    "the drug part of a status that nobody knows": put(fluid, status="unknown"),
    "the drug part without a status": without(fluid, "status"),
    "the order entered in error": for_both(status="entered-in-error"),
    "the order on hold": for_both(status="on-hold"),
    "the order's part on hold alone": put(device, status="on-hold"),
    "the order revoked alone": put(device, status="revoked"),
    "the order of a status that nobody knows": for_both(status="unknown"),
    "a status of which only an extension stands": lambda b: (
        device(b).pop("status"),
        device(b).update(_status={"extension": [MODIFIER]}),
    ),
    "a proposal": for_both(intent="proposal"),
    "a plan": for_both(intent="plan"),
    "an option": for_both(intent="option"),
    "a directive": put(device, intent="directive"),
    "a proposal of the drug part": put(fluid, intent="proposal"),
    "a plan of the drug part": put(fluid, intent="plan"),
    "the drug part not to be done": put(fluid, doNotPerform=True),
    "the drug part told by somebody, not ordered": put(fluid, reportedBoolean=True),
    "the bag entered in error": put(medication, status="entered-in-error"),
    "the bag of an inactive kind": put(medication, status="inactive"),
    "an end": lambda b: device(b)["occurrencePeriod"].update(end="2026-03-02T16:00:00-06:00"),
    "a timing for a period": lambda b: (
        device(b).pop("occurrencePeriod"),
        device(b).update(occurrenceTiming={"code": {"text": "at night"}}),
    ),
    "an entry that deletes": lambda b: b["entry"][0].update(
        request={"method": "DELETE", "url": "DeviceRequest/settings"}
    ),
    "an order in the place of another": put(
        device, priorRequest=[{"reference": "DeviceRequest/1"}]
    ),
    "the drug part in the place of another": put(
        fluid, priorPrescription={"reference": "MedicationRequest/1"}
    ),
    "a resource that says it is not whole": put(
        device,
        meta={"tag": [SUBSETTED]},
    ),
    "a narrative that says more": put(
        device,
        text=MORE,
    ),
    "the drug part in force before the order": put(fluid, status="active"),
    "the order in force before the drug part": put(device, status="active"),
    "an ended order with a drug part in force": lambda b: (
        device(b).update(status="completed"),
        fluid(b).update(status="active"),
    ),
    "a status in other letters": put(device, status="Draft"),
    "an intent in other letters": put(device, intent="Order"),
    "no intent": without(device, "intent"),
    "no intent of the drug part": without(fluid, "intent"),
    "another deletion beside": lambda b: (
        b.update(type="transaction"),
        [each.update(request={"method": "POST", "url": "x"}) for each in b["entry"]],
        b["entry"].append({"request": {"method": "DELETE", "url": "DeviceRequest/settings"}}),
    ),
    "a history": lambda b: (
        b.update(type="history"),
        [
            each.update(request={"method": "PUT", "url": "x"}, response={"status": "200"})
            for each in b["entry"]
        ],
    ),
    "a drug part that the server did not find": lambda b: (
        b.update(type="batch-response"),
        [each.update(response={"status": "404"}) for each in b["entry"]],
    ),
    "more pages": lambda b: b.update(
        type="searchset", link=[{"relation": "next", "url": "https://ward.example/page2"}]
    ),
    "a task to stop it": lambda b: add(
        b,
        {
            "resourceType": "Task",
            "status": "requested",
            "intent": "order",
            "code": {"coding": [{"system": TASKS, "code": "abort"}]},
            "focus": {"reference": b["entry"][0]["fullUrl"]},
        },
    ),
    "a note that it was nullified": lambda b: add(
        b,
        {
            "resourceType": "Provenance",
            "target": [{"reference": b["entry"][0]["fullUrl"]}],
            "recorded": "2026-03-02T15:00:00Z",
            "activity": {"coding": [{"system": OPERATIONS, "code": "NULLIFY"}]},
            "agent": [{"who": {"display": "the registry"}}],
        },
    ),
    "a group of requests that is revoked": lambda b: add(
        b, {"resourceType": "RequestGroup", "status": "revoked", "intent": "order"}
    ),
    "a flag": lambda b: add(
        b,
        {
            "resourceType": "Flag",
            "status": "active",
            "code": {"text": "no irrigation"},
            "subject": {"display": "the patient for whom the order is signed"},
        },
    ),
    "a bag that says it is not whole": put(medication, meta={"tag": [SUBSETTED]}),
    "a Bundle that says it is not whole": lambda b: b.update(meta={"tag": [SUBSETTED]}),
    "a narrative of the drug part that says more": put(fluid, text=MORE),
    "a narrative of the bag that says more": put(medication, text=MORE),
}
MEANING: dict[str, Change] = {
    "a modifier of the Bundle's request": put(device, modifierExtension=[MODIFIER]),
    "a modifier of a parameter": lambda b: setting(b, "pause.upper").update(
        modifierExtension=[MODIFIER]
    ),
    "a modifier of the drug part": put(fluid, modifierExtension=[MODIFIER]),
    "a modifier of the bag": put(medication, modifierExtension=[MODIFIER]),
    "a modifier of the instruction": put(dosage, modifierExtension=[MODIFIER]),
    "rules of its own for the Bundle": lambda b: b.update(
        implicitRules="https://ward.example/rules"
    ),
    "rules of its own for the request": put(device, implicitRules="https://ward.example/rules"),
    "rules of its own for the drug part": put(fluid, implicitRules="https://ward.example/rules"),
    "a modifier of the supply": put(fluid, dispenseRequest={"modifierExtension": [MODIFIER]}),
    "a modifier of the batch": put(medication, batch={"modifierExtension": [MODIFIER]}),
    "a modifier of another entry": lambda b: add(
        b, {"resourceType": "Patient", "id": "1", "modifierExtension": [MODIFIER]}
    ),
    "an element that R4 has not": put(device, asNeeded=True),
    "a word of the drug part that is misspelt": put(fluid, doNotPerfrom=True),
    "an element of a Quantity that R4 has not": lambda b: amount(b, "pause.upper").update(
        operator="<"
    ),
    "a status of the Bundle": lambda b: b.update(status="revoked"),
    "a modifier of whoever asks": put(
        device,
        contained=[{"resourceType": "Practitioner", "id": "p", "modifierExtension": [MODIFIER]}],
        requester={"reference": "#p", "display": "neurocritical care attending"},
    ),
    "rules of its own for whoever asks": put(
        device,
        contained=[{"resourceType": "Practitioner", "id": "p", "implicitRules": "urn:rules"}],
        requester={"reference": "#p", "display": "neurocritical care attending"},
    ),
}
