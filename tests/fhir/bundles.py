"""Bundles of FHIR R4 made by the standard and the project's own table of settings, by hand.

Nothing of `orderlint/fhir` is imported here, and it should stay so: whoever mends this reads the
standard and that folder's page.
"""

from __future__ import annotations

import functools
import json
import re
from copy import deepcopy
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import yaml

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

Json = dict[str, Any]

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
CODES = "https://orderlint.example/fhir/order-settings"
UCUM = "http://unitsofmeasure.org"
UCUM_CODES = {
    "mmHg": "mm[Hg]",
    "cmH2O": "cm[H2O]",
    "mL": "mL",
    "L": "L",
    "mL/h": "mL/h",
    "mL/min": "mL/min",
    "s": "s",
    "min": "min",
    "h": "h",
    "kg": "kg",
    "g": "g",
    "deg": "deg",
    "mg/L": "mg/L",
    "mg/mL": "mg/mL",
    "g/L": "g/L",
    "mcg": "ug",
    "mcg/L": "ug/L",
    "mcg/mL": "ug/mL",
}
"""The units of orders that UCUM has, by the standard's own table."""
OTHER_LETTERS = {
    "mmhg": "mmHg",
    "mm Hg": "mmHg",
    "cmh2o": "cmH2O",
    "cm H2O": "cmH2O",
    "mL/hr": "mL/h",
    "hour": "h",
    "hours": "h",
    "cmH₂O": "cmH2O",
    "°": "deg",
}
"""Units as they are also written: the order's own reader judges them."""
GROUP = {"system": "urn:ietf:rfc:3986", "value": "urn:uuid:7b0a9df6-7dc1-4b11-9df4-04f2d2bb6c11"}
SUBJECT = {"display": "the patient for whom the order is signed"}
STATUS = {"draft": "draft", "active": "active", "ended": "completed"}
ONE = {"value": 1}
PLAIN = re.compile(r"(-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?) (\S.*)")
ELSEWHERE = {
    *("document", "format", "id", "status", "written", "starts"),
    *("prescriber", "indication", "instructions"),
}
"""Paths that have an element of their own."""
IN_MEDICATION = ("irrigation.rate", "irrigation.fluid", "irrigation.bag")


@functools.cache
def clean_texts() -> Mapping[str, str]:
    """The texts of the clean example by path."""
    text = (EXAMPLES / "clean.yaml").read_text(encoding="utf-8")
    return MappingProxyType(dict(_flat(yaml.load(text, yaml.BaseLoader))))  # every scalar as text


def _flat(section: Json, above: str = "") -> Iterator[tuple[str, str]]:
    for key, value in section.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", value


def code(path: str) -> Json:
    """A CodeableConcept of our code system."""
    return {"coding": [{"system": CODES, "code": path}]}


def quantity(text: str) -> Json | None:
    """A Quantity where a text is plainly number, blank, unit; its number keeps its letters."""
    match = PLAIN.fullmatch(text)
    if not match or match[2] not in UCUM_CODES:
        return None
    return {
        "value": Number(match[1]),
        "unit": match[2],
        "system": UCUM,
        "code": UCUM_CODES[match[2]],
    }


class Number(str):
    """A number of JSON by its letters; `as_json` writes it without quotation marks."""

    __slots__ = ()


def parameter(path: str, text: str) -> Json:
    """A setting as a parameter of a DeviceRequest."""
    if (amount := quantity(text)) is not None:
        return {"code": code(path), "valueQuantity": amount}
    return {"code": code(path), "valueCodeableConcept": {"text": text}}


def device_request(texts: Mapping[str, str]) -> Json:
    """The order as a DeviceRequest: each setting a parameter, but for what has an element."""
    resource: Json = {
        "resourceType": "DeviceRequest",
        "id": "settings",
        "groupIdentifier": {"value": texts["id"]},
        "status": STATUS[texts["status"]],
        "intent": "order",
        "codeCodeableConcept": code("order"),
        "parameter": [parameter(p, t) for p, t in texts.items() if p not in ELSEWHERE],
        "subject": deepcopy(SUBJECT),
        "occurrencePeriod": {"start": texts["starts"]},
        "authoredOn": texts["written"],
        "requester": {"display": texts["prescriber"]},
        "reasonCode": [{"text": texts["indication"]}],
        "note": [{"text": texts["instructions"]}],
    }
    return resource


def medication_request(texts: Mapping[str, str]) -> Json:
    """The fluid once more, as pharmacy is sent it: what, how fast, from which bag."""
    return {
        "resourceType": "MedicationRequest",
        "id": "fluid",
        "contained": [
            {
                "resourceType": "Medication",
                "id": "bag",
                "code": {"text": texts["irrigation.fluid"]},
                "amount": {"numerator": quantity(texts["irrigation.bag"]), "denominator": ONE},
            }
        ],
        "groupIdentifier": {"value": texts["id"]},
        "status": STATUS[texts["status"]],
        "intent": "order",
        "medicationReference": {"reference": "#bag"},
        "subject": deepcopy(SUBJECT),
        "authoredOn": texts["written"],
        "requester": {"display": texts["prescriber"]},
        "dosageInstruction": [
            {"doseAndRate": [{"rateQuantity": quantity(texts["irrigation.rate"])}]}
        ],
    }


def bundle(*resources: Json) -> Json:
    """A collection of resources, each with an address of its own."""
    return {
        "resourceType": "Bundle",
        "type": "collection",
        "entry": [
            {"fullUrl": f"urn:uuid:00000000-0000-4000-8000-{number:012}", "resource": each}
            for number, each in enumerate(resources, 1)
        ],
    }


def clean_bundle() -> Json:
    """The clean example as a Bundle of a DeviceRequest and a MedicationRequest."""
    texts = clean_texts()
    return bundle(device_request(texts), medication_request(texts))


def as_json(data: Any) -> str:
    """JSON text with each `Number` letter by letter as it was given."""
    text = json.dumps(_marked(data), ensure_ascii=False, indent=1)
    return re.sub(r'"\ue000([^"]*)"', r"\1", text)


def _marked(data: Any) -> Any:
    if isinstance(data, Number):
        return f"\ue000{data}"
    if isinstance(data, dict):
        return {key: _marked(value) for key, value in data.items()}
    return [_marked(each) for each in data] if isinstance(data, list) else data


def service_request(texts: Mapping[str, str]) -> Json:
    """The order as a ServiceRequest of R4: each setting a detail whose text is its value."""
    held = device_request(texts)
    kept = ("status", "intent", "subject", "authoredOn", "requester", "reasonCode", "note")
    return {
        "resourceType": "ServiceRequest",
        "id": "settings",
        "requisition": held["groupIdentifier"],
        **{key: held[key] for key in kept},
        "code": code("order"),
        "occurrencePeriod": held["occurrencePeriod"],
        "orderDetail": [{**code(p), "text": t} for p, t in texts.items() if p not in ELSEWHERE],
    }


def clean_service_bundle() -> Json:
    """The clean example as a system sends it that has no DeviceRequest."""
    texts = clean_texts()
    return bundle(service_request(texts), medication_request(texts))
