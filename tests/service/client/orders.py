"""Requests among FHIR R4 resources: orders of ours by their codes, and of everything else.

Each is drawn from a seed. Ours are the example orders with settings left out, changed or spoiled.
"""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml

if TYPE_CHECKING:
    from collections.abc import Mapping
    from random import Random

CODES = "https://orderlint.example/fhir/order-settings"
UCUM = "http://unitsofmeasure.org"
STATUSES = {"ended": "completed", "active": "active"}
UNITS = {"mmHg": "mm[Hg]", "cmH2O": "cm[H2O]"}
EXAMPLES = Path(__file__).resolve().parents[3] / "examples"
NAMED = ("clean", "child", "infant", "drainage-only", "monitoring-only", "rate-without-unit")
_QUANTITY = re.compile(
    r"(-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?) (mmHg|cmH2O|mL/h|mL|L|h|min|s|kg|g|deg)"
)
ELSEWHERE = {"document", "format", "id", "status", "written", "starts", "prescriber", "indication"}
Resource = dict[str, Any]


@functools.cache
def examples() -> tuple[Mapping[str, str], ...]:
    """The example orders, each path with its text as written."""
    return tuple(_flat(_read(EXAMPLES / f"{name}.yaml")) for name in NAMED)


def _read(file: Path) -> Any:
    return yaml.load(file.read_text(encoding="utf-8"), yaml.BaseLoader)


def _flat(tree: Mapping[str, Any], above: str = "") -> dict[str, str]:
    found: dict[str, str] = {}
    for name, value in tree.items():
        found |= (
            _flat(value, f"{above}{name}.") if isinstance(value, dict) else {above + name: value}
        )
    return found


def coding(code: str, system: str = CODES) -> Resource:
    """A CodeableConcept of one code."""
    return {"coding": [{"system": system, "code": code, "display": code.replace(".", " ")}]}


def parameter(path: str, text: str) -> Resource:
    """A setting as DeviceRequest.parameter: a quantity where the text is plainly one."""
    plain = _QUANTITY.fullmatch(text)
    if not plain:
        return {"code": coding(path), "valueCodeableConcept": {"text": text}}
    number, unit = plain.groups()
    value = int(number) if re.fullmatch("-?[0-9]+", number) else float(number)
    quantity = {"value": value, "unit": unit, "system": UCUM, "code": UNITS.get(unit, unit)}
    return {"code": coding(path), "valueQuantity": quantity}


def device_request(order: Mapping[str, str], number: str = "1") -> Resource:
    """An order of ours in its home."""
    made = {
        "resourceType": "DeviceRequest",
        "id": f"ours-{number}",
        "status": STATUSES.get(order.get("status"), "draft"),
        "intent": "order",
        "codeCodeableConcept": coding("order"),
        "subject": {"reference": "Patient/p-1"},
        **_named(order, number),
        "parameter": [
            parameter(path, text) for path, text in order.items() if path not in ELSEWHERE
        ],
    }
    return {name: value for name, value in made.items() if value != []}


def service_request(order: Mapping[str, str], number: str = "1") -> Resource:
    """An order of ours in its second home, where each detail is a code and a text."""
    details = [
        {**coding(path), "text": text} for path, text in order.items() if path not in ELSEWHERE
    ]
    made = {
        "resourceType": "ServiceRequest",
        "id": f"ours-{number}",
        "status": STATUSES.get(order.get("status"), "draft"),
        "intent": "order",
        "code": coding("order"),
        "subject": {"reference": "Patient/p-1"},
        **_named(order, number),
        "orderDetail": details,
    }
    made["requisition"] = made.pop("groupIdentifier")
    return {name: value for name, value in made.items() if value != []}


def _named(order: Mapping[str, str], number: str) -> Resource:
    """The elements of both homes that hold what has an element of its own."""
    made: Resource = {"groupIdentifier": {"value": f"{order.get('id', 'demo')}-{number}"}}
    if "written" in order:
        made["authoredOn"] = order["written"]
    if "starts" in order:
        made["occurrencePeriod"] = {"start": order["starts"]}
    if "prescriber" in order:
        made["requester"] = {"display": order["prescriber"]}
    if "indication" in order:
        made["reasonCode"] = [{"text": order["indication"]}]
    return made


def ours(draw: Random, number: str) -> Resource:
    """An order of ours, whole or not, sound or not."""
    order = dict(draw.choice(examples()))
    for path in draw.sample(sorted(order), draw.choice((0, 0, 1, 3, len(order) // 2))):
        del order[path]
    for path in draw.sample(sorted(order), min(len(order), draw.choice((0, 0, 1, 2)))):
        order[path] = spoiled(draw, order[path])
    home = draw.choice((device_request, device_request, service_request))
    return home(order, number)


def spoiled(draw: Random, text: str) -> str:
    """A text that says less, more or something else."""
    number, _, unit = text.partition(" ")
    ways = (number, unit, f"about {text}", f"{text} or less", f"9{text}", text.upper())
    return draw.choice((*ways, "as ordered", "<b>0</b>", "ß" * 200, "![0](http://evil.example)"))


SNOMED, LOINC = "http://snomed.info/sct", "http://loinc.org"
FOREIGN = (
    SNOMED,
    LOINC,
    "https://codes.example/orders",
    CODES + "/v2",
    CODES.upper(),
    "urn:oid:2.1",
)
PATHS = ("order", "pause.upper", "irrigation.rate", "drainage.height", "treat_above")


def foreign_code(draw: Random) -> Resource:
    """A code of somebody else's, which may be spelt as one of ours is."""
    system = draw.choice(FOREIGN)
    concept = coding(draw.choice((*PATHS, str(draw.randrange(10**8)))), system)
    if draw.random() < 0.2:
        concept = {"text": draw.choice(("order", "ventricular drain", CODES, f"{CODES}|order"))}
    return concept


def _whatever(draw: Random, kind: str, number: str) -> Resource:
    return {
        "resourceType": kind,
        "id": f"other-{number}",
        "status": draw.choice(("draft", "active")),
        "intent": draw.choice(("order", "plan", "proposal")),
        "subject": {"reference": "Patient/p-1"},
        "authoredOn": "2026-03-02T14:10:00-06:00",
    }


def other_device(draw: Random, number: str) -> Resource:
    concept = {"codeCodeableConcept": foreign_code(draw)}
    if draw.random() < 0.2:
        concept = {"codeReference": {"reference": "Device/d-1"}}
    quantity = {"value": draw.randrange(99), "unit": "mmHg", "system": UCUM, "code": "mm[Hg]"}
    parameters = [{"code": foreign_code(draw), "valueQuantity": quantity}]
    return {**_whatever(draw, "DeviceRequest", number), **concept, "parameter": parameters}


def other_service(draw: Random, number: str) -> Resource:
    details = [{**foreign_code(draw), "text": "22 mmHg"} for _ in range(draw.randrange(1, 3))]
    made = {**_whatever(draw, "ServiceRequest", number), "code": foreign_code(draw)}
    return {**made, "orderDetail": details}


def other_medication(draw: Random, number: str) -> Resource:
    fluid = draw.choice(("sodium chloride 0.9 %", "lactated Ringer's", "an invented antibiotic"))
    medication = {"medicationCodeableConcept": {"text": fluid}}
    if draw.random() < 0.3:
        medication = {"medicationReference": {"reference": "Medication/m-1"}}
    dosage = [{"text": "60 mL/h into the ventricle", "route": foreign_code(draw)}]
    made = {**_whatever(draw, "MedicationRequest", number), **medication}
    return {**made, "dosageInstruction": dosage}


def other_nutrition(draw: Random, number: str) -> Resource:
    made = {**_whatever(draw, "NutritionOrder", number), "patient": {"reference": "Patient/p-1"}}
    del made["subject"], made["authoredOn"]
    diet = {"oralDiet": {"type": [foreign_code(draw)]}}
    return {**made, "dateTime": "2026-03-02", **diet}


def other_vision(draw: Random, number: str) -> Resource:
    lens = [{"product": foreign_code(draw), "eye": "right", "sphere": -2.0}]
    made = {**_whatever(draw, "VisionPrescription", number), "lensSpecification": lens}
    del made["intent"], made["subject"], made["authoredOn"]
    return {**made, "patient": {"reference": "Patient/p-1"}, "dateWritten": "2026-03-02"}


def other_talk(draw: Random, number: str) -> Resource:
    kind = draw.choice(("CommunicationRequest", "Task", "SupplyRequest", "Appointment"))
    return {**_whatever(draw, kind, number), "note": [{"text": "pause above 22 mmHg"}]}


OTHERS = (
    *(other_device, other_device, other_service, other_service, other_medication),
    *(other_nutrition, other_vision, other_talk),
)


def other(draw: Random, number: str) -> Resource:
    """A request that is no order of ours."""
    return draw.choice(OTHERS)(draw, number)


def bundle(*resources: Resource) -> Resource:
    """What `draftOrders` holds."""
    return {
        "resourceType": "Bundle",
        "type": "collection",
        "entry": [{"resource": resource} for resource in resources],
    }
