"""The hazards that only a reader of FHIR can see, each with a harmless twin.

The twin is as near to the hazard as a change can be that leaves what may be started as it was. In
the first five the settings by themselves say nothing.
"""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING, NamedTuple

from fhir.bundle_mutants import MUTANTS
from fhir.bundles import code, quantity
from fhir.parts import add, amount, device, dosage, fluid, medication, subjects

if TYPE_CHECKING:
    from fhir.changes import Change

PATIENT = {"reference": "Patient/1"}


class Hazard(NamedTuple):
    """A change that makes an order other than its settings say, and one that does not."""

    hazard: Change
    twin: Change


def _details(*texts: tuple[str, str]) -> Change:
    """The same order once more as a ServiceRequest with some of its settings."""
    details = [{**code(path), "text": text} for path, text in texts]

    def change(bundle):
        held = device(bundle)
        kept = ("status", "intent", "subject", "authoredOn", "requester", "occurrencePeriod")
        service = {key: deepcopy(held[key]) for key in kept}
        service |= {"resourceType": "ServiceRequest", "code": code("order")}
        service |= {"requisition": held["groupIdentifier"], "orderDetail": details}
        add(bundle, service)

    return change


HAZARDS: dict[str, Hazard] = {
    "two patients in one order": Hazard(
        MUTANTS["another subject of the drug part"], lambda b: subjects(b, PATIENT, PATIENT)
    ),
    "a drug part that is stopped": Hazard(
        MUTANTS["the drug part stopped"],
        lambda b: (device(b).update(status="active"), fluid(b).update(status="active")),
    ),
    "a proposal": Hazard(
        MUTANTS["a proposal"],
        lambda b: [each(b).update(intent="original-order") for each in (device, fluid)],
    ),
    "not to be done": Hazard(
        MUTANTS["the drug part not to be done"], lambda b: fluid(b).update(doNotPerform=False)
    ),
    "an extension that may change the meaning": Hazard(
        MUTANTS["a modifier of the Bundle's request"],
        lambda b: device(b).update(identifier=[{"system": "urn:x", "value": "7"}]),
    ),
    "entered in error": Hazard(
        MUTANTS["the order entered in error"],
        lambda b: device(b).update(id="entered-in-error"),
    ),
    "the rate twice, and not the same": Hazard(
        MUTANTS["another rate in the drug part"],
        lambda b: dosage(b).update(
            doseAndRate=[
                {"rateRatio": {"numerator": quantity("60 mL"), "denominator": quantity("1 h")}}
            ]
        ),
    ),
    "the fluid twice, and not the same": Hazard(
        MUTANTS["another fluid in the drug part"],
        lambda b: (
            fluid(b).pop("contained"),
            fluid(b).pop("medicationReference"),
            fluid(b).update(medicationCodeableConcept={"text": "lactated Ringer's"}),
        ),
    ),
    "a drug that the settings have not": Hazard(
        MUTANTS["a drug in the bag"],
        lambda b: medication(b).update(manufacturer={"display": "a maker of bags"}),
    ),
    "a unit whose code is of another": Hazard(
        MUTANTS["a unit of one kind and a code of another"],
        lambda b: [amount(b, "pause.upper").pop(key) for key in ("system", "code")],
    ),
    "a comparator": Hazard(
        MUTANTS["less than"],
        lambda b: device(b)["parameter"].append(device(b)["parameter"].pop(0)),
    ),
    "a setting twice, and not the same": Hazard(
        _details(("pause.upper", "20 mmHg"), ("treat_above", "8 mmHg")),
        _details(("pause.upper", "22 mmHg"), ("treat_above", "8 mmHg")),
    ),
    "a setting that a code outside ours names": Hazard(
        MUTANTS["a setting of a code that is not ours"],
        lambda b: amount(b, "pause.upper").update(id="p1"),
    ),
    "rules of its own": Hazard(
        MUTANTS["rules of its own for the request"],
        lambda b: device(b).update(meta={"profile": ["https://ward.example/profile"]}),
    ),
    "an end": Hazard(MUTANTS["an end"], lambda b: device(b)["occurrencePeriod"].update(id="o1")),
    "as needed": Hazard(MUTANTS["as needed"], lambda b: dosage(b).update(asNeededBoolean=False)),
    "a request contained in the order": Hazard(
        MUTANTS["an order contained in the order"],
        lambda b: device(b).update(
            contained=[{"resourceType": "Practitioner", "id": "p"}],
            requester={"reference": "#p", "display": device(b)["requester"]["display"]},
        ),
    ),
}
