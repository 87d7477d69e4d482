"""Small changes to the clean Bundle, each of which ought to change what may be started.

All are FHIR as the standard has it, but for those of `NOT_FHIR`.
"""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING, Any

from fhir.bundles import CODES, UCUM, Number, code, parameter
from fhir.parts import add, amount, device, dosage, fluid, medication, rate, setting, subjects

if TYPE_CHECKING:
    from collections.abc import Callable

    from fhir.bundles import Json

    Change = Callable[[Json], Any]

MODIFIER = {"url": "https://ward.example/fhir/only-if", "valueBoolean": True}
"""An extension that by the standard may change the meaning of what holds it."""


def _set(holder: Callable[[Json], Json], **values: Any) -> Change:
    """The elements of a part set to other values."""
    return lambda bundle: holder(bundle).update(deepcopy(values))


def _without(holder: Callable[[Json], Json], *keys: str) -> Change:
    def change(bundle: Json) -> None:
        for key in keys:
            del holder(bundle)[key]

    return change


def _add_parameter(each: Json) -> Change:
    return lambda bundle: device(bundle)["parameter"].append(deepcopy(each))


def _for_both(**values: Any) -> Change:
    """The same said of both requests."""

    def change(bundle: Json) -> None:
        for holder in (device, fluid):
            holder(bundle).update(deepcopy(values))

    return change


def _coded(path: str, *codings: Json) -> Change:
    return lambda bundle: setting(bundle, path)["code"].update(coding=deepcopy([*codings]))


def _value(path: str, **value: Any) -> Change:
    """Another value of a setting, of whatever type."""

    def change(bundle: Json) -> None:
        held = setting(bundle, path)
        kept = held["code"]
        held.clear()
        held.update(code=kept, **deepcopy(value))

    return change


def _without_setting(path: str) -> Change:
    return lambda bundle: device(bundle)["parameter"].remove(setting(bundle, path))


def _service_request(**values: Any) -> Json:
    return {
        "resourceType": "ServiceRequest",
        "requisition": {"value": "demo-0417"},
        "status": "draft",
        "intent": "order",
        "code": code("order"),
        "subject": {"display": "the patient for whom the order is signed"},
        **values,
    }


def _detail(path: str, text: str) -> Json:
    return {**code(path), "text": text}


PATIENT, OTHER = {"reference": "Patient/1"}, {"reference": "Patient/2"}
LOW = {"value": 20, "unit": "mL/h", "system": UCUM, "code": "mL/h"}

WHO: dict[str, Change] = {
    "another subject of the drug part": lambda b: subjects(b, PATIENT, OTHER),
    "another subject by name": _set(fluid, subject={"display": "the patient in the next bed"}),
    "another subject by identifier": lambda b: subjects(
        b, {"identifier": {"value": "1"}}, {"identifier": {"value": "2"}}
    ),
    "a group as subject": lambda b: subjects(b, *[{"reference": "Group/1"}] * 2),
    "another requester of the drug part": _set(fluid, requester={"display": "night registrar"}),
    "another group of the drug part": _set(fluid, groupIdentifier={"value": "demo-0418"}),
    "another encounter of the drug part": lambda b: (
        device(b).update(encounter={"reference": "Encounter/1"}),
        fluid(b).update(encounter={"reference": "Encounter/2"}),
    ),
}
STATE: dict[str, Change] = {
    "the drug part stopped": _set(fluid, status="stopped"),
    "the drug part cancelled": _set(fluid, status="cancelled"),
    "the drug part on hold": _set(fluid, status="on-hold"),
    "the drug part completed": _set(fluid, status="completed"),
    "the drug part entered in error": _set(fluid, status="entered-in-error"),
    "the drug part of a status that nobody knows": _set(fluid, status="unknown"),
    "the drug part without a status": _without(fluid, "status"),
    "the order entered in error": _for_both(status="entered-in-error"),
    "the order on hold": _for_both(status="on-hold"),
    "the order's part on hold alone": _set(device, status="on-hold"),
    "the order revoked alone": _set(device, status="revoked"),
    "the order of a status that nobody knows": _for_both(status="unknown"),
    "the order without a status": _without(device, "status"),
    "a status of which only an extension stands": lambda b: (
        device(b).pop("status"),
        device(b).update(_status={"extension": [MODIFIER]}),
    ),
    "a proposal": _for_both(intent="proposal"),
    "a plan": _for_both(intent="plan"),
    "an option": _for_both(intent="option"),
    "a directive": _set(device, intent="directive"),
    "a proposal of the drug part": _set(fluid, intent="proposal"),
    "a plan of the drug part": _set(fluid, intent="plan"),
    "the drug part not to be done": _set(fluid, doNotPerform=True),
    "the drug part told by somebody, not ordered": _set(fluid, reportedBoolean=True),
    "the bag entered in error": _set(medication, status="entered-in-error"),
    "the bag of an inactive kind": _set(medication, status="inactive"),
    "an end": lambda b: device(b)["occurrencePeriod"].update(end="2026-03-02T16:00:00-06:00"),
    "a timing for a period": lambda b: (
        device(b).pop("occurrencePeriod"),
        device(b).update(occurrenceTiming={"code": {"text": "at night"}}),
    ),
    "an entry that deletes": lambda b: b["entry"][0].update(
        request={"method": "DELETE", "url": "DeviceRequest/settings"}
    ),
    "an order in the place of another": _set(
        device, priorRequest=[{"reference": "DeviceRequest/1"}]
    ),
    "the drug part in the place of another": _set(
        fluid, priorPrescription={"reference": "MedicationRequest/1"}
    ),
    "a resource that says it is not whole": _set(
        device,
        meta={
            "tag": [
                {
                    "system": "http://terminology.hl7.org/CodeSystem/v3-ObservationValue",
                    "code": "SUBSETTED",
                }
            ]
        },
    ),
    "a narrative that says more": _set(
        device,
        text={
            "status": "additional",
            "div": '<div xmlns="http://www.w3.org/1999/xhtml">not before the scan</div>',
        },
    ),
}
MEANING: dict[str, Change] = {
    "a modifier of the Bundle's request": _set(device, modifierExtension=[MODIFIER]),
    "a modifier of a parameter": lambda b: setting(b, "pause.upper").update(
        modifierExtension=[MODIFIER]
    ),
    "a modifier of the drug part": _set(fluid, modifierExtension=[MODIFIER]),
    "a modifier of the bag": _set(medication, modifierExtension=[MODIFIER]),
    "a modifier of the instruction": _set(dosage, modifierExtension=[MODIFIER]),
    "rules of its own for the Bundle": lambda b: b.update(
        implicitRules="https://ward.example/rules"
    ),
    "rules of its own for the request": _set(device, implicitRules="https://ward.example/rules"),
    "rules of its own for the drug part": _set(fluid, implicitRules="https://ward.example/rules"),
}
VALUES: dict[str, Change] = {
    "less than": lambda b: amount(b, "pause.upper").update(comparator="<"),
    "at least": lambda b: amount(b, "irrigation.rate").update(comparator=">="),
    "less than, in the drug part": lambda b: rate(b).update(comparator="<"),
    "a unit of one kind and a code of another": lambda b: amount(b, "pause.upper").update(
        code="cm[H2O]"
    ),
    "a unit and a code of another dimension": lambda b: amount(b, "pause.upper").update(code="mL"),
    "a unit's code that UCUM has not": lambda b: amount(b, "pause.upper").update(code="mmHg"),
    "a unit's code in other letters": lambda b: amount(b, "irrigation.bag").update(code="ML"),
    "a system of units that is not UCUM": lambda b: amount(b, "pause.upper").update(
        system="https://ward.example/units"
    ),
    "a number alone": lambda b: [amount(b, "pause.upper").pop(k) for k in ("unit", "code")],
    "a unit alone": lambda b: amount(b, "pause.upper").pop("value"),
    "a number with an extension beside it": lambda b: amount(b, "pause.upper").update(
        _value={"extension": [MODIFIER]}
    ),
    "a trailing zero": lambda b: amount(b, "pause.upper").update(value=Number("22.0")),
    "a number with an exponent": lambda b: amount(b, "pause.upper").update(value=Number("2.2e1")),
    "a range for a level": _value(
        "pause.upper", valueRange={"low": {"value": 20}, "high": {"value": 22}}
    ),
    "a range of one value for a level": _value(
        "pause.upper",
        valueRange={
            end: {"value": 22, "unit": "mmHg", "system": UCUM, "code": "mm[Hg]"}
            for end in ("low", "high")
        },
    ),
    "a truth value for a rate": _value("irrigation.rate", valueBoolean=True),
    "a parameter without a value": _value("pause.upper"),
    "a coding for a text": _value(
        "therapy", valueCodeableConcept={"coding": [{"system": "urn:x", "code": "T2"}]}
    ),
    "a coding that gainsays its text": _value(
        "therapy",
        valueCodeableConcept={
            "text": "irrigation",
            "coding": [{"system": CODES, "code": "drainage", "display": "drainage"}],
        },
    ),
    "a day without a time": _for_both(authoredOn="2026-03-02"),
    "an order written at two times": _set(fluid, authoredOn="2026-03-02T13:10:00-06:00"),
}
SETTINGS: dict[str, Change] = {
    "a setting twice": _add_parameter(parameter("pause.upper", "20 mmHg")),
    "a setting twice in two units": _add_parameter(parameter("pause.upper", "22 cmH2O")),
    "a setting twice, once as a text": _add_parameter(
        {"code": code("pause.upper"), "valueCodeableConcept": {"text": "20 mmHg"}}
    ),
    "a code that is not one of ours": _add_parameter(parameter("pause.uper", "20 mmHg")),
    "a section's code": _add_parameter(parameter("pause", "20 mmHg")),
    "a code in other letters": _coded("pause.upper", {"system": CODES, "code": "Pause.Upper"}),
    "a code of another system": _coded(
        "pause.upper", {"system": "https://ward.example/codes", "code": "pause.upper"}
    ),
    "a code without a system": _coded("pause.upper", {"code": "pause.upper"}),
    "a setting of a code that is not ours": _add_parameter(
        {
            "code": {"coding": [{"system": "https://ward.example/codes", "code": "hold-if"}]},
            "valueCodeableConcept": {"text": "spasm"},
        }
    ),
    "a setting that only a text names": _add_parameter(
        {"code": {"text": "upper pause limit"}, "valueQuantity": LOW}
    ),
    "a setting without a code": _add_parameter({"valueQuantity": LOW}),
    "two codes of ours for one value": _coded(
        "pause.upper",
        {"system": CODES, "code": "pause.upper"},
        {"system": CODES, "code": "treat_above"},
    ),
    "a text of the code that names another setting": lambda b: setting(b, "pause.upper")[
        "code"
    ].update(text="lower pause limit"),
    "no lower limit": _without_setting("pause.lower"),
    "another therapy": _value("therapy", valueCodeableConcept={"text": "drainage"}),
    "the settings twice": lambda b: add(b, {**deepcopy(device(b)), "id": "again"}),
    "another order in the Bundle": lambda b: add(
        b, {**deepcopy(device(b)), "id": "b", "groupIdentifier": {"value": "demo-2"}}
    ),
    "settings once more that differ": lambda b: add(
        b, _service_request(orderDetail=[_detail("pause.upper", "20 mmHg")])
    ),
    "a part that is not to be done": lambda b: add(b, _service_request(doNotPerform=True)),
    "a part of another patient": lambda b: add(
        b, _service_request(subject={"reference": "Patient/2"})
    ),
    "a part of a status that is not the order's": lambda b: add(
        b, _service_request(status="revoked")
    ),
    "a request in the same group that is not ours": lambda b: add(
        b, _service_request(code={"text": "stop all irrigation"})
    ),
    "an order contained in the order": _set(
        device,
        contained=[{**_service_request(status="revoked"), "id": "inner"}],
        supportingInfo=[{"reference": "#inner"}],
    ),
    "a note more": lambda b: device(b)["note"].append({"text": "hold at 15 mmHg"}),
    "an indication more": lambda b: device(b)["reasonCode"].append({"text": "prophylaxis"}),
    "an order that a code outside ours names": lambda b: device(b)["codeCodeableConcept"][
        "coding"
    ].append({"system": "https://ward.example/codes", "code": "drain-removal"}),
}
BAG = {"contained", "medicationReference"}
DRUG: dict[str, Change] = {
    "another rate in the drug part": lambda b: rate(b).update(value=20),
    "another unit of the rate in the drug part": lambda b: rate(b).update(
        unit="mL/min", code="mL/min"
    ),
    "another fluid in the drug part": _set(medication, code={"text": "sterile water"}),
    "another bag in the drug part": lambda b: medication(b)["amount"]["numerator"].update(
        value=500
    ),
    "a drug in the bag": _set(
        medication, ingredient=[{"itemCodeableConcept": {"text": "demo lytic agent"}}]
    ),
    "a fluid by a code that is not ours": _set(
        medication, code={"coding": [{"system": "urn:x", "code": "9"}]}
    ),
    "a fluid whose code gainsays its text": _set(
        medication,
        code={
            "text": "lactated Ringer's",
            "coding": [{"system": "urn:x", "code": "9", "display": "sterile water"}],
        },
    ),
    "as needed": _set(dosage, asNeededBoolean=True),
    "as needed, for a reason": _set(dosage, asNeededCodeableConcept={"text": "clot"}),
    "into a vein": _set(dosage, route={"text": "intravenous"}),
    "at another site": _set(dosage, site={"text": "left arm"}),
    "at times": _set(dosage, timing={"repeat": {"frequency": 1, "period": 8, "periodUnit": "h"}}),
    "a text that says another rate": _set(dosage, text="20 mL/h"),
    "a text of the instruction": _set(dosage, text="stop when the drained fluid is clear"),
    "an instruction for the patient": _set(dosage, patientInstruction="lie still"),
    "a further instruction": _set(dosage, additionalInstruction=[{"text": "not before the scan"}]),
    "a second instruction": lambda b: fluid(b)["dosageInstruction"].append(
        {"doseAndRate": [{"rateQuantity": deepcopy(LOW)}]}
    ),
    "a second rate": lambda b: dosage(b)["doseAndRate"].append({"rateQuantity": deepcopy(LOW)}),
    "a dose beside the rate": lambda b: dosage(b)["doseAndRate"][0].update(
        doseQuantity={"value": 500, "unit": "mL", "system": UCUM, "code": "mL"}
    ),
    "a rate of a kind of its own": lambda b: dosage(b)["doseAndRate"][0].update(
        type={"text": "calculated"}
    ),
    "a range for the rate": lambda b: dosage(b).update(
        doseAndRate=[{"rateRange": {"low": {"value": 20}, "high": {"value": 60}}}]
    ),
    "no rate in the drug part": _without(fluid, "dosageInstruction"),
    "another daily maximum": _set(
        dosage,
        maxDosePerPeriod={
            "numerator": {"value": 500, "unit": "mL", "system": UCUM, "code": "mL"},
            "denominator": {"value": 1, "unit": "d", "system": UCUM, "code": "d"},
        },
    ),
    "a greatest dose": _set(
        dosage, maxDosePerAdministration={"value": 5, "unit": "mL", "system": UCUM, "code": "mL"}
    ),
    "a fluid that may be exchanged": _set(fluid, substitution={"allowedBoolean": True}),
    "an end of the supply": _set(
        fluid, dispenseRequest={"validityPeriod": {"end": "2026-03-02T15:10:00-06:00"}}
    ),
    "a note in the drug part": _set(fluid, note=[{"text": "run at 20 mL/h"}]),
    "a reason for its status": _set(fluid, statusReason={"text": "out of stock"}),
    "a bag that stands elsewhere": lambda b: (
        fluid(b).pop("contained"),
        fluid(b).update(medicationReference={"reference": "Medication/elsewhere"}),
    ),
    "a bag that leads nowhere": lambda b: fluid(b).update(
        medicationReference={"reference": "#other"}
    ),
    "a bag out of date": _set(medication, batch={"expirationDate": "2025-01-01"}),
    "a form that is no fluid": _set(medication, form={"text": "tablet"}),
    "a second drug part": lambda b: add(b, {**deepcopy(fluid(b)), "id": "again"}),
    "a second drug part of another fluid": lambda b: add(
        b,
        {
            **{k: v for k, v in deepcopy(fluid(b)).items() if k not in BAG},
            "id": "again",
            "medicationCodeableConcept": {"text": "sterile water"},
        },
    ),
}
MUTANTS = {**WHO, **STATE, **MEANING, **VALUES, **SETTINGS, **DRUG}
NOT_FHIR = {
    "the drug part without a status",
    "an entry that deletes",
    "less than, in the drug part",
    "a unit's code that UCUM has not",
    "a bag that leads nowhere",
}
"""Of those, what is not as the standard has it, and reaches a reader all the same."""
PECULIAR = {
    "a status of which only an extension stands",
    "a number with an extension beside it",
}
"""What the standard allows, and a validator of others stumbles over."""
