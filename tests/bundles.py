"""A Bundle of one order without a finding, and changes to it. Written by hand from the standard."""

from __future__ import annotations

import json
import re
from typing import Any

from orderlint.fhir.bundle.reading import BundleOrder, orders_in
from orderlint.fhir.codes import setting_codes
from orderlint.reading import read

CODES = "https://orderlint.example/fhir/order-settings"
UCUM = "http://unitsofmeasure.org"
_UCUM = {"mmHg": "mm[Hg]", "cmH2O": "cm[H2O]"}
_PATIENT = {"reference": "Patient/1"}
_GROUP = {"system": "https://site.example/orders", "value": "demo-0417"}
_QUANTITY = re.compile(r"(\d+) (\S+)")

SETTINGS = """\
revision: 1
review_by: 2026-03-03T15:00:00-06:00
zone: America/Chicago
patient.group: adult
patient.vascular_lesion: none
patient.anticoagulation: none
patient.bone_flap: in place
access: right ventricle
therapy: irrigation
display_unit: mmHg
pause.lower: 2 mmHg
pause.upper: 22 mmHg
treat_above: 8 mmHg
irrigation.rate: 60 mL/h
irrigation.fluid: lactated Ringer's
irrigation.additive: none
irrigation.bag: 1000 mL
irrigation.bag_change_every: 24 h
irrigation.daily_max: 2200 mL
drainage.height: 5 mmHg
drainage.landmark: tragus
drainage.scale: mmHg
drainage.bag: 700 mL
drainage.hourly_max: 120 mL/h
drainage.at_hourly_max: tell
monitoring.icp_every: 1 h
monitoring.neuro_every: 1 h
monitoring.output_every: 1 h
monitoring.level_every: 4 h
monitoring.zero_every: 12 h
monitoring.alarms: on
monitoring.relevel_on_move: yes
position.head_up: 30 deg
notify.call: neurocritical care on call
notify.icp_above: 20 mmHg
notify.icp_for: 5 min
notify.icp_below: 3 mmHg
notify.no_output_after: 10 mL
notify.net_in.above: 15 mL
notify.net_in.within: 1 h
notify.net_out.above: 30 mL
notify.net_out.within: 1 h
notify.events: neurological change, new colour, leak, lost waveform
during_pause.tell_within: 15 min
transport.irrigation: off
transport.drain: clamp
transport.icp_monitored: yes
transport.clamp_max: 30 min
start_checks.imaging: yes
start_checks.outflow_seen: yes
start_checks.neuro_baseline: yes
targets.map: 90 mmHg
targets.cpp_min: 60 mmHg
stop_when: drained fluid clear on two checks, or new bleeding
"""


def coded(path: str, display: str = "") -> dict[str, Any]:
    """The code of a setting."""
    shown = {"display": display} if display else {}
    return {"coding": [{"system": CODES, "code": path, **shown}]}


def value_of(text: str) -> dict[str, Any]:
    """A value as a Quantity where it is plainly a number and a unit, else as a text."""
    found = _QUANTITY.fullmatch(text)
    if not found:
        return {"valueCodeableConcept": {"text": text}}
    number, unit = found.groups()
    return {"valueQuantity": quantity(int(number), unit)}


def quantity(number: int, unit: str) -> dict[str, Any]:
    """A Quantity with its UCUM code."""
    return {"value": number, "unit": unit, "system": UCUM, "code": _UCUM.get(unit, unit)}


def parameter(path: str, text: str) -> dict[str, Any]:
    """One setting."""
    return {"code": coded(path), **value_of(text)}


def _ratio(number: int, unit: str, per: dict[str, Any]) -> dict[str, Any]:
    return {"numerator": quantity(number, unit), "denominator": per}


def device_request() -> dict[str, Any]:
    """The settings."""
    lines = (line.split(": ", 1) for line in SETTINGS.splitlines())
    return {
        "resourceType": "DeviceRequest",
        "id": "1",
        "groupIdentifier": _GROUP,
        "status": "draft",
        "intent": "order",
        "codeCodeableConcept": coded("order", "Order for ventricular irrigation"),
        "parameter": [parameter(path, text) for path, text in lines],
        "subject": _PATIENT,
        "occurrencePeriod": {"start": "2026-03-02T15:00:00-06:00"},
        "authoredOn": "2026-03-02T13:10:00-06:00",
        "requester": {"display": "neurocritical care attending"},
        "reasonCode": [{"text": "intraventricular haemorrhage"}],
        "note": [{"text": "call before any change of the drain height"}],
    }


def medication_request() -> dict[str, Any]:
    """The fluid once more."""
    return {
        "resourceType": "MedicationRequest",
        "id": "1",
        "groupIdentifier": _GROUP,
        "status": "draft",
        "intent": "order",
        "medicationReference": {"reference": "Medication/1"},
        "subject": _PATIENT,
        "requester": {"display": "neurocritical care attending"},
        "dosageInstruction": [
            {
                "doseAndRate": [{"rateQuantity": quantity(60, "mL/h")}],
                "maxDosePerPeriod": _ratio(2200, "mL", quantity(1, "d")),
            }
        ],
    }


def medication() -> dict[str, Any]:
    """The bag."""
    return {
        "resourceType": "Medication",
        "id": "1",
        "status": "active",
        "code": {"text": "lactated Ringer's"},
        "amount": _ratio(1000, "mL", {"value": 1}),
    }


def bundle(*resources: dict[str, Any]) -> dict[str, Any]:
    """A Bundle of these, or of the sample order."""
    held = resources or (device_request(), medication_request(), medication(), PATIENT)
    entries = [{"fullUrl": f"https://site.example/{_name(r)}", "resource": r} for r in held]
    whole = {"resourceType": "Bundle", "type": "collection", "entry": entries}
    held_apart: dict[str, Any] = json.loads(json.dumps(whole))
    return held_apart


PATIENT = {"resourceType": "Patient", "id": "1"}


def _name(resource: dict[str, Any]) -> str:
    return f"{resource['resourceType']}/{resource.get('id', '')}"


def found_in(whole: dict[str, Any]) -> tuple[BundleOrder, ...]:
    """The orders in a Bundle."""
    document = read(json.dumps(whole, indent=1).encode(), "order.json", "fhir")
    return orders_in(document.root, document.file)


def changed(changes: dict[str, str]) -> dict[str, Any]:
    """The sample with the changes of a rule's example."""
    whole = bundle()
    resources = {each["resource"]["resourceType"]: each["resource"] for each in whole["entry"]}
    for key, text in changes.items():
        head, _, rest = key.partition(".")
        if head in resources:
            _put(resources[head], _steps(rest), _json(text))
        elif head == "entry":
            whole["entry"][0][rest] = _json(text)
        elif head == "earlier":
            _add_earlier(whole, text)
        elif head != "value":
            _change_parameter(resources["DeviceRequest"]["parameter"], key, changes)
    return whole


def _change_parameter(parameters: list[dict[str, Any]], key: str, changes: dict[str, str]) -> None:
    path, value = changes[key], changes["value"]
    at = next(n for n, each in enumerate(parameters) if each["code"] == coded(path))
    if key == "again":
        parameters.append({"code": coded(path), **json.loads(value)})
    elif key == "value of":
        parameters[at] = {"code": coded(path), **json.loads(value)}
    elif key == "code of":
        parameters[at]["code"] = coded(path, value)
    else:
        raise AssertionError(key)


def _add_earlier(whole: dict[str, Any], status: str) -> None:
    """Add the order that the sample replaces."""
    whole["entry"].append({"resource": {**device_request(), "id": "0", "status": status}})
    whole["entry"][0]["resource"]["priorRequest"] = [{"reference": "DeviceRequest/0"}]


def _json(text: str) -> Any:
    return json.loads(text) if text[:1] in {"{", "["} or text in {"true", "false"} else _plain(text)


def _plain(text: str) -> Any:
    return int(text) if text.isdigit() else text


def _steps(path: str) -> list[str | int]:
    return [int(step) if step.isdigit() else step for step in path.split(".")]


def _put(held: Any, steps: list[str | int], value: Any) -> None:
    *inner, last = steps
    for step in inner:
        held = held[step]
    held[last] = value


def concept_map(
    pairs: list[tuple[str, str]], equivalence: str = "equivalent", target: str = CODES
) -> dict[str, Any]:
    """A ConceptMap of a site's codes and ours."""
    elements = [
        {"code": code, "target": [{"code": path, "equivalence": equivalence}]}
        for code, path in pairs
    ]
    group = {"source": "https://site.example/codes", "target": target, "element": elements}
    return {"resourceType": "ConceptMap", "status": "active", "group": [group]}


def with_codes_of_a_site() -> Any:
    """The sample with other codes in the place of ours."""
    text = json.dumps(bundle()).replace(CODES, "https://site.example/codes")
    for number, path in enumerate((*setting_codes(), "order")):
        text = text.replace(f'"code": "{path}"', f'"code": "S{number}"')
    return json.loads(text)


PAIRS = [(f"S{number}", path) for number, path in enumerate((*setting_codes(), "order"))]
"""Each code of the site, and ours."""
