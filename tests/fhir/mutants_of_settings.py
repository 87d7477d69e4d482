"""Changes to how the settings of an order are coded, and to their values."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from fhir.bundles import CODES, UCUM, Number, code, parameter
from fhir.changes import (
    LOW,
    MODIFIER,
    coded,
    detail,
    for_both,
    put,
    service_request,
    valued,
    with_parameter,
    without_setting,
)
from fhir.parts import add, amount, device, fluid, rate, setting

if TYPE_CHECKING:
    from fhir.changes import Change

CODED_UPPER = {"system": CODES, "code": "pause.upper"}

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
    "a text with a trailing zero": valued(
        "pause.upper", valueCodeableConcept={"text": "22.0 mmHg"}
    ),
    "a number with an exponent": lambda b: amount(b, "pause.upper").update(value=Number("2.2e1")),
    "a range for a level": valued(
        "pause.upper", valueRange={"low": {"value": 20}, "high": {"value": 22}}
    ),
    "a range of one value for a level": valued(
        "pause.upper",
        valueRange={
            end: {"value": 22, "unit": "mmHg", "system": UCUM, "code": "mm[Hg]"}
            for end in ("low", "high")
        },
    ),
    "a truth value for a rate": valued("irrigation.rate", valueBoolean=True),
    "a parameter without a value": valued("pause.upper"),
    "a coding for a text": valued(
        "therapy", valueCodeableConcept={"coding": [{"system": "urn:x", "code": "T2"}]}
    ),
    "a coding that gainsays its text": valued(
        "therapy",
        valueCodeableConcept={
            "text": "irrigation",
            "coding": [{"system": CODES, "code": "drainage", "display": "drainage"}],
        },
    ),
    "a day without a time": for_both(authoredOn="2026-03-02"),
    "a code without its system": valued(
        "pause.upper", valueQuantity={"value": 22, "code": "mm[Hg]"}
    ),
    "a code of another unit without its system": valued(
        "pause.upper", valueQuantity={"value": 22, "unit": "mmHg", "code": "cm[H2O]"}
    ),
    "a system of units with one letter more": lambda b: amount(b, "pause.upper").update(
        system=f"{UCUM}/"
    ),
    "a code with a remark": lambda b: amount(b, "pause.upper").update(code="mm[Hg]{mean}"),
    "a unit with a remark": lambda b: amount(b, "pause.upper").update(unit="mmHg (mean)"),
    "a number in the unit": lambda b: amount(b, "pause.upper").update(unit="0 mmHg"),
    "a range in the unit": lambda b: amount(b, "pause.upper").update(unit="to 30 mmHg"),
    "a rate of another time": lambda b: amount(b, "irrigation.rate").update(code="mL/min"),
    "a weight of another unit": lambda b: amount(b, "patient.weight").update(code="g"),
    "a number as a text": lambda b: amount(b, "pause.upper").update(value="22"),
    "an empty text": valued("therapy", valueCodeableConcept={"text": ""}),
}
SETTINGS: dict[str, Change] = {
    "a setting twice": with_parameter(parameter("pause.upper", "20 mmHg")),
    "a setting twice in two units": with_parameter(parameter("pause.upper", "22 cmH2O")),
    "a setting twice, once as a text": with_parameter(
        {"code": code("pause.upper"), "valueCodeableConcept": {"text": "20 mmHg"}}
    ),
    "a code that is not one of ours": with_parameter(parameter("pause.uper", "20 mmHg")),
    "a section's code": with_parameter(parameter("pause", "20 mmHg")),
    "a code in other letters": coded("pause.upper", {"system": CODES, "code": "Pause.Upper"}),
    "a code of another system": coded(
        "pause.upper", {"system": "https://ward.example/codes", "code": "pause.upper"}
    ),
    "a code without a system": coded("pause.upper", {"code": "pause.upper"}),
    "a setting of a code that is not ours": with_parameter(
        {
            "code": {"coding": [{"system": "https://ward.example/codes", "code": "hold-if"}]},
            "valueCodeableConcept": {"text": "spasm"},
        }
    ),
    "a setting that only a text names": with_parameter(
        {"code": {"text": "upper pause limit"}, "valueQuantity": LOW}
    ),
    "a setting without a code": with_parameter({"valueQuantity": LOW}),
    "two codes of ours for one value": coded(
        "pause.upper",
        {"system": CODES, "code": "pause.upper"},
        {"system": CODES, "code": "treat_above"},
    ),
    "a text of the code that names another setting": lambda b: setting(b, "pause.upper")[
        "code"
    ].update(text="lower pause limit"),
    "no lower limit": without_setting("pause.lower"),
    "another therapy": valued("therapy", valueCodeableConcept={"text": "drainage"}),
    "another order in the Bundle": lambda b: add(
        b, {**deepcopy(device(b)), "id": "b", "groupIdentifier": {"value": "demo-2"}}
    ),
    "settings once more that differ": lambda b: add(
        b, service_request(orderDetail=[detail("pause.upper", "20 mmHg")])
    ),
    "a part that is not to be done": lambda b: add(b, service_request(doNotPerform=True)),
    "a part of another patient": lambda b: add(
        b, service_request(subject={"reference": "Patient/2"})
    ),
    "a part of a status that is not the order's": lambda b: add(
        b, service_request(status="revoked")
    ),
    "a request in the same group that is not ours": lambda b: add(
        b, service_request(code={"text": "stop all irrigation"})
    ),
    "an order contained in the order": put(
        device,
        contained=[{**service_request(status="revoked"), "id": "inner"}],
        supportingInfo=[{"reference": "#inner"}],
    ),
    "a note more": lambda b: device(b)["note"].append({"text": "hold at 15 mmHg"}),
    "an indication more": lambda b: device(b)["reasonCode"].append({"text": "prophylaxis"}),
    "an order that a code outside ours names": lambda b: device(b)["codeCodeableConcept"][
        "coding"
    ].append({"system": "https://ward.example/codes", "code": "drain-removal"}),
    "a code that differs by a blank": coded(
        "pause.upper", {"system": CODES, "code": "pause.upper "}
    ),
    "a system that differs by a letter": coded(
        "pause.upper", {"system": f"{CODES}/", "code": "pause.upper"}
    ),
    "a code of letters that look alike": coded(
        "pause.upper", {"system": CODES, "code": "p\u0430use.upper"}
    ),
    "a name of the code that is another setting's": lambda b: setting(b, "pause.upper")["code"][
        "coding"
    ][0].update(display="Lower pause limit"),
    "a name of a detail's code that is another setting's": lambda b: add(
        b,
        service_request(
            orderDetail=[
                {
                    "coding": [
                        {**CODED_UPPER, "display": "Lower pause limit"},
                    ],
                    "text": "22 mmHg",
                }
            ]
        ),
    ),
    "the order's code of another thing": put(device, codeReference={"display": "a device"}),
    "a text of the order's code that is no order": lambda b: device(b)[
        "codeCodeableConcept"
    ].update(text="removal of the drain"),
    "a second status": with_parameter(parameter("status", "ended")),
    "a second start": with_parameter(parameter("starts", "2026-03-02T16:00:00-06:00")),
    "a second prescriber": with_parameter(parameter("prescriber", "night registrar")),
    "a drug beside none": with_parameter(parameter("irrigation.additive.name", "demo lytic")),
    "a parameter of nothing": lambda b: device(b)["parameter"].append({}),
    "a Bundle in the Bundle": lambda b: add(
        b,
        {
            "resourceType": "Bundle",
            "type": "collection",
            "entry": [{"resource": {**deepcopy(fluid(b)), "status": "stopped"}}],
        },
    ),
    "a resource that nobody knows": lambda b: add(b, {"resourceType": "StopOrder"}),
    "an entry that is null": lambda b: b["entry"].append(None),
    "a code of a reason alone": put(
        device, reasonCode=[{"coding": [{"system": "http://snomed.info/sct", "code": "7"}]}]
    ),
    "a name of the code that is another setting's path": lambda b: setting(b, "pause.upper")[
        "code"
    ]["coding"][0].update(display="pause.lower"),
    "a name of the code that begins as another setting's": lambda b: setting(b, "pause.upper")[
        "code"
    ]["coding"][0].update(display="Lower pause limit (alarm)"),
}
