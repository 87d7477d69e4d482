"""Ways to change the clean Bundle in one place, and what is put there."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING, Any

from fhir.bundles import UCUM, code
from fhir.parts import device, fluid, setting

if TYPE_CHECKING:
    from collections.abc import Callable

    from fhir.bundles import Json

    Change = Callable[[Json], Any]

MODIFIER = {"url": "https://ward.example/fhir/only-if", "valueBoolean": True}
"""An extension that by the standard may change the meaning of what holds it."""


def put(holder: Callable[[Json], Json], **values: Any) -> Change:
    """The elements of a part set to other values."""
    return lambda bundle: holder(bundle).update(deepcopy(values))


def without(holder: Callable[[Json], Json], *keys: str) -> Change:
    def change(bundle: Json) -> None:
        for key in keys:
            del holder(bundle)[key]

    return change


def with_parameter(each: Json) -> Change:
    return lambda bundle: device(bundle)["parameter"].append(deepcopy(each))


def for_both(**values: Any) -> Change:
    """The same said of both requests."""

    def change(bundle: Json) -> None:
        for holder in (device, fluid):
            holder(bundle).update(deepcopy(values))

    return change


def coded(path: str, *codings: Json) -> Change:
    return lambda bundle: setting(bundle, path)["code"].update(coding=deepcopy([*codings]))


def valued(path: str, **value: Any) -> Change:
    """Another value of a setting, of whatever type."""

    def change(bundle: Json) -> None:
        held = setting(bundle, path)
        kept = held["code"]
        held.clear()
        held.update(code=kept, **deepcopy(value))

    return change


def without_setting(path: str) -> Change:
    return lambda bundle: device(bundle)["parameter"].remove(setting(bundle, path))


def service_request(**values: Any) -> Json:
    return {
        "resourceType": "ServiceRequest",
        "requisition": {"value": "demo-0417"},
        "status": "draft",
        "intent": "order",
        "code": code("order"),
        "subject": {"display": "the patient for whom the order is signed"},
        **values,
    }


def detail(path: str, text: str) -> Json:
    return {**code(path), "text": text}


PATIENT, OTHER = {"reference": "Patient/1"}, {"reference": "Patient/2"}
LOW = {"value": 20, "unit": "mL/h", "system": UCUM, "code": "mL/h"}
