"""Changes to a ServiceRequest that holds the settings."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

from fhir.bundles import CODES, code
from fhir.changes import MODIFIER, OTHER, put
from fhir.parts import path_of

if TYPE_CHECKING:
    from fhir.bundles import Json
    from fhir.changes import Change


def service(bundle: Json) -> Json:
    """The ServiceRequest, which holds the settings."""
    return bundle["entry"][0]["resource"]


def upper(bundle: Json) -> Json:
    """The detail of the upper pause limit."""
    (found,) = [each for each in service(bundle)["orderDetail"] if _path(each) == "pause.upper"]
    return found


def _path(detail: Json) -> str | None:
    return path_of({"code": detail})


def _with_detail(**detail: object) -> Change:
    return lambda bundle: service(bundle)["orderDetail"].append(deepcopy(detail))


SERVICES: dict[str, Change] = {
    "not to be done": put(service, doNotPerform=True),
    "as needed": put(service, asNeededBoolean=True),
    "as needed, for a reason": put(service, asNeededCodeableConcept={"text": "clot"}),
    "a status on hold": put(service, status="on-hold"),
    "a status revoked": put(service, status="revoked"),
    "a plan": put(service, intent="plan"),
    "another subject": put(service, subject=OTHER),
    "a quantity": put(service, quantityQuantity={"value": 2}),
    "a site of the body": put(service, bodySite=[{"text": "lumbar"}]),
    "in the place of another": put(service, replaces=[{"reference": "ServiceRequest/1"}]),
    "a modifier": put(service, modifierExtension=[MODIFIER]),
    "a further fact": put(service, supportingInfo=[{"display": "a scan"}]),
    "an instruction for the patient that says another rate": put(
        service, patientInstruction="irrigation rate 20 mL/h"
    ),
    "a setting twice": _with_detail(**code("pause.upper"), text="20 mmHg"),
    "a detail that is not ours": _with_detail(text="hold on spasm"),
    "a code that is not one of ours": _with_detail(**code("pause.uper"), text="20 mmHg"),
    "two codes of ours": lambda b: upper(b)["coding"].append(
        {"system": CODES, "code": "treat_above"}
    ),
    "a name of the code that is another setting's": lambda b: upper(b)["coding"][0].update(
        display="Lower pause limit"
    ),
    "no text": lambda b: upper(b).pop("text"),
    "a value in the name of the code": lambda b: (
        upper(b).pop("text"),
        upper(b)["coding"][0].update(display="22 mmHg"),
    ),
    "an extension of a detail": lambda b: upper(b).update(extension=[MODIFIER]),
}
"""By name; each is FHIR as the standard has it."""
