"""Changes to what an order says of its fluid and of how it is given."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from fhir.bundles import UCUM, quantity
from fhir.changes import (
    LOW,
    put,
    without,
)
from fhir.parts import add, device, dosage, fluid, medication, rate

if TYPE_CHECKING:
    from fhir.changes import Change

BAG = {"contained", "medicationReference"}
DRUG: dict[str, Change] = {
    "another rate in the drug part": lambda b: rate(b).update(value=20),
    "another unit of the rate in the drug part": lambda b: rate(b).update(
        unit="mL/min", code="mL/min"
    ),
    "another fluid in the drug part": put(medication, code={"text": "sterile water"}),
    "another bag in the drug part": lambda b: medication(b)["amount"]["numerator"].update(
        value=500
    ),
    "a drug in the bag": put(
        medication, ingredient=[{"itemCodeableConcept": {"text": "demo lytic agent"}}]
    ),
    "a fluid by a code that is not ours": put(
        medication, code={"coding": [{"system": "urn:x", "code": "9"}]}
    ),
    "a fluid whose code gainsays its text": put(
        medication,
        code={
            "text": "lactated Ringer's",
            "coding": [{"system": "urn:x", "code": "9", "display": "sterile water"}],
        },
    ),
    "as needed": put(dosage, asNeededBoolean=True),
    "as needed, for a reason": put(dosage, asNeededCodeableConcept={"text": "clot"}),
    "into a vein": put(dosage, route={"text": "intravenous"}),
    "at another site": put(dosage, site={"text": "left arm"}),
    "at times": put(dosage, timing={"repeat": {"frequency": 1, "period": 8, "periodUnit": "h"}}),
    "a text that says another rate": put(dosage, text="20 mL/h"),
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
    "another daily maximum": put(
        dosage,
        maxDosePerPeriod={
            "numerator": {"value": 500, "unit": "mL", "system": UCUM, "code": "mL"},
            "denominator": {"value": 1, "unit": "d", "system": UCUM, "code": "d"},
        },
    ),
    "a greatest dose": put(
        dosage, maxDosePerAdministration={"value": 5, "unit": "mL", "system": UCUM, "code": "mL"}
    ),
    "a fluid that may be exchanged": put(fluid, substitution={"allowedBoolean": True}),
    "an end of the supply": put(
        fluid, dispenseRequest={"validityPeriod": {"end": "2026-03-02T15:10:00-06:00"}}
    ),
    "a note in the drug part": put(fluid, note=[{"text": "run at 20 mL/h"}]),
    "a reason for its status": put(fluid, statusReason={"text": "out of stock"}),
    "a bag that stands elsewhere": lambda b: (
        fluid(b).pop("contained"),
        fluid(b).update(medicationReference={"reference": "Medication/elsewhere"}),
    ),
    "a bag that leads nowhere": lambda b: fluid(b).update(
        medicationReference={"reference": "#other"}
    ),
    "a second drug part": lambda b: add(b, {**deepcopy(fluid(b)), "id": "again"}),
    "a second drug part of another fluid": lambda b: add(
        b,
        {
            **{k: v for k, v in deepcopy(fluid(b)).items() if k not in BAG},
            "id": "again",
            "medicationCodeableConcept": {"text": "sterile water"},
        },
    ),
    "an instruction for the patient that says another rate": put(
        dosage, patientInstruction="irrigation rate 20 mL/h"
    ),
    "a further instruction that says another rate": put(
        dosage, additionalInstruction=[{"text": "irrigation rate 20 mL/h"}]
    ),
    "a further instruction that is a code alone": put(
        dosage,
        additionalInstruction=[{"coding": [{"system": "http://snomed.info/sct", "code": "7"}]}],
    ),
    "another name of the bag": lambda b: fluid(b)["medicationReference"].update(
        display="sterile water"
    ),
    "no drug in the drug part": lambda b: (
        fluid(b).pop("contained"),
        fluid(b).pop("medicationReference"),
    ),
    "a bag of nothing": without(medication, "code"),
    "two bags of one id": lambda b: fluid(b)["contained"].append(
        {"resourceType": "Medication", "id": "bag", "code": {"text": "sterile water"}}
    ),
    "two bags of one id, the other first": lambda b: fluid(b)["contained"].insert(
        0, {"resourceType": "Medication", "id": "bag", "code": {"text": "sterile water"}}
    ),
    "a bag to which nothing leads": lambda b: fluid(b)["contained"].append(
        {"resourceType": "Medication", "id": "other", "code": {"text": "sterile water"}}
    ),
    "a bag to which nothing leads in an entry": lambda b: add(
        b, {"resourceType": "Medication", "code": {"text": "sterile water"}}
    ),
    "two kinds of drug": put(fluid, medicationCodeableConcept={"text": "sterile water"}),
    "a bag for two": lambda b: medication(b)["amount"].update(denominator={"value": 2}),
    "a bag for a day": lambda b: medication(b)["amount"].update(denominator=quantity("24 h")),
    "the daily maximum for half a day": put(
        dosage,
        maxDosePerPeriod={"numerator": quantity("2200 mL"), "denominator": quantity("12 h")},
    ),
    "the rate for two hours": put(
        dosage,
        doseAndRate=[
            {"rateRatio": {"numerator": quantity("60 mL"), "denominator": quantity("2 h")}}
        ],
    ),
    "a rate and a ratio": lambda b: dosage(b)["doseAndRate"][0].update(
        rateRatio={"numerator": quantity("20 mL"), "denominator": quantity("1 h")}
    ),
    "a unit of the rate whose code is of another": lambda b: rate(b).update(unit="mL/min"),
    "another fluid in a drug part without a group": lambda b: (
        fluid(b).pop("groupIdentifier"),
        medication(b).update(code={"text": "sterile water"}),
    ),
    "a stopped drug part without a group": lambda b: (
        fluid(b).pop("groupIdentifier"),
        fluid(b).update(status="stopped"),
    ),
    "another fluid, and no groups": lambda b: (
        device(b).pop("groupIdentifier"),
        fluid(b).pop("groupIdentifier"),
        medication(b).update(code={"text": "sterile water"}),
    ),
    "another drug in the group": lambda b: add(
        b,
        {
            **{k: v for k, v in deepcopy(fluid(b)).items() if k not in BAG},
            "id": "again",
            "medicationCodeableConcept": {"text": "demo cephalosporin 2 g"},
            "dosageInstruction": [{"route": {"text": "intravenous"}}],
        },
    ),
    "another reason of the drug part": put(fluid, reasonCode=[{"text": "ventriculitis"}]),
    "another event of the drug part": put(dosage, timing={"event": ["2026-03-05T15:00:00-06:00"]}),
}
