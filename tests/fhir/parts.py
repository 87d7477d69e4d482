"""The parts of the clean Bundle by name, for whoever changes one of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fhir.bundles import CODES

if TYPE_CHECKING:
    from fhir.bundles import Json


def device(bundle: Json) -> Json:
    """The DeviceRequest, which holds the settings."""
    return bundle["entry"][0]["resource"]


def fluid(bundle: Json) -> Json:
    """The MedicationRequest, which says the fluid once more."""
    return bundle["entry"][1]["resource"]


def medication(bundle: Json) -> Json:
    """The Medication in the MedicationRequest."""
    return fluid(bundle)["contained"][0]


def dosage(bundle: Json) -> Json:
    """The instruction that has the rate."""
    return fluid(bundle)["dosageInstruction"][0]


def rate(bundle: Json) -> Json:
    """The rate as the MedicationRequest has it."""
    return dosage(bundle)["doseAndRate"][0]["rateQuantity"]


def setting(bundle: Json, path: str) -> Json:
    """The parameter of a setting."""
    (found,) = [each for each in device(bundle)["parameter"] if path_of(each) == path]
    return found


def path_of(parameter: Json) -> str | None:
    """The path that a parameter of ours is coded with."""
    codings = parameter.get("code", {}).get("coding", ())
    return next((each["code"] for each in codings if each.get("system") == CODES), None)


def amount(bundle: Json, path: str) -> Json:
    """The Quantity of a setting."""
    return setting(bundle, path)["valueQuantity"]


def subjects(bundle: Json, *subjects: Json) -> None:
    """Whom the DeviceRequest and the MedicationRequest are for."""
    device(bundle)["subject"], fluid(bundle)["subject"] = subjects


def add(bundle: Json, resource: Json) -> None:
    """One more entry."""
    number = len(bundle["entry"]) + 1
    address = f"urn:uuid:00000000-0000-4000-8000-{number:012}"
    bundle["entry"].append({"fullUrl": address, "resource": resource})
