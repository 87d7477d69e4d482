"""A Bundle → the texts of its settings, by the project's pages and nothing of its code.

It reads what is written there by the standard, not what others might write.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from fhir.bundles import OTHER_LETTERS, STATUS, UCUM, UCUM_CODES
from fhir.parts import path_of

if TYPE_CHECKING:
    from fhir.bundles import Json


def texts_of(bundle: str) -> dict[str, str]:
    """Path → text as written, of the DeviceRequest in a Bundle."""
    resources = [entry["resource"] for entry in _raw(bundle)["entry"]]
    (order,) = [each for each in resources if each["resourceType"] == "DeviceRequest"]
    return {**_named(order), **_parameters(order)}


def _raw(text: str) -> Json:
    """JSON whose numbers keep their letters."""
    return json.loads(text, parse_float=str, parse_int=str)


def _named(order: Json) -> dict[str, str]:
    """The settings that have an element of their own."""
    own = {status: ours for ours, status in STATUS.items()}
    found = {
        "id": order.get("groupIdentifier", {}).get("value"),
        "status": own.get(order.get("status")),
        "written": order.get("authoredOn"),
        "starts": order.get("occurrencePeriod", {}).get("start"),
        "prescriber": order.get("requester", {}).get("display"),
        "indication": _only_text(order.get("reasonCode")),
        "instructions": _only_text(order.get("note")),
    }
    return {path: text for path, text in found.items() if text is not None}


def _only_text(held: list[Json] | None) -> str | None:
    if held is None:
        return None
    (one,) = held
    return one["text"]


def _parameters(order: Json) -> dict[str, str]:
    found: dict[str, str] = {}
    for each in order.get("parameter", ()):
        path = path_of(each)
        assert path is not None
        assert path not in found
        found[path] = _value(each)
    return found


def _value(parameter: Json) -> str:
    """The text of a parameter; the code of its unit must be the one that the unit has."""
    if "valueQuantity" in parameter:
        held = parameter["valueQuantity"]
        assert held.keys() == {"value", "unit", "system", "code"}
        assert held["system"] == UCUM
        assert held["code"] == UCUM_CODES[OTHER_LETTERS.get(held["unit"], held["unit"])]
        return f"{held['value']} {held['unit']}"
    assert parameter.keys() == {"code", "valueCodeableConcept"}
    return parameter["valueCodeableConcept"]["text"]
