"""Each validator is alive: faults against the standard, each with those that must find it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from fhir.bundles import Number, as_json, clean_bundle
from fhir.validators import NAMES, assert_valid, validated

if TYPE_CHECKING:
    from collections.abc import Callable

    from fhir.bundles import Json

pytestmark = pytest.mark.fhir_validators

Change = "Callable[[Json], Any]"


def request(bundle: Json) -> Json:
    """The DeviceRequest of a Bundle."""
    return bundle["entry"][0]["resource"]


def amount(bundle: Json) -> Json:
    """The first Quantity of the DeviceRequest."""
    return next(p["valueQuantity"] for p in request(bundle)["parameter"] if "valueQuantity" in p)


def medication(bundle: Json) -> Json:
    return bundle["entry"][1]["resource"]


FAULTS: dict[str, tuple[Callable[[Json], Any], str]] = {
    "no intent": (
        lambda b: request(b).pop("intent"),
        "definitions fhir google",
    ),
    "no subject": (
        lambda b: request(b).pop("subject"),
        "definitions schema fhir google",
    ),
    "an intent that is no code of it": (
        lambda b: request(b).update(intent="wish"),
        "definitions fhir google",
    ),
    "a status that is no code of it": (
        lambda b: request(b).update(status="ended"),
        "definitions fhir google",
    ),
    "a value of a type that parameters have not": (
        lambda b: request(b)["parameter"][0].update(
            valueString=request(b)["parameter"][0].pop("valueCodeableConcept")["text"]
        ),
        "definitions schema fhir google",
    ),
    "two values of one parameter": (
        lambda b: request(b)["parameter"][0].update(valueBoolean=True),
        "definitions",
    ),
    "two kinds of code": (
        lambda b: request(b).update(codeReference={"display": "a device"}),
        "definitions",
    ),
    "an element that is not known": (
        lambda b: request(b).update(rate="60 mL/h"),
        "definitions schema fhir google",
    ),
    "an array for one": (
        lambda b: request(b).update(status=["draft"]),
        "definitions schema fhir google",
    ),
    "one for an array": (
        lambda b: request(b).update(note={"text": "call"}),
        "definitions schema fhir google",
    ),
    "an empty array": (
        lambda b: request(b).update(insurance=[]),
        "definitions",
    ),
    "an empty object": (
        lambda b: request(b).update(encounter={}),
        "definitions rules google",
    ),
    "a null": (
        lambda b: request(b).update(priority=None),
        "definitions schema fhir google",
    ),
    "a number in quotation marks": (
        lambda b: amount(b).update(value="22"),
        "definitions schema fhir google",
    ),
    "an instant without an offset": (
        lambda b: request(b).update(authoredOn="2026-03-02T14:10:00"),
        "definitions schema google",
    ),
    "a day that no calendar has": (
        lambda b: request(b).update(authoredOn="2026-02-30"),
        "definitions google",
    ),
    "a code with two blanks": (
        lambda b: amount(b).update(code="mm  [Hg]"),
        "definitions schema google ucum",
    ),
    "an id with a blank": (
        lambda b: request(b).update(id="the settings"),
        "definitions schema google",
    ),
    "a unit's code without its system": (
        lambda b: amount(b).pop("system"),
        "rules",
    ),
    "a unit that UCUM has not": (
        lambda b: amount(b).update(code="mmHg"),
        "ucum",
    ),
    "a contained resource to which nothing leads": (
        lambda b: medication(b).update(medicationReference={"display": "a bag"}),
        "rules",
    ),
    "a reference into nothing": (
        lambda b: medication(b)["medicationReference"].update(reference="#other"),
        "definitions rules",
    ),
    "a reference to what cannot stand there": (
        lambda b: medication(b).update(requester={"reference": "Medication/1"}),
        "definitions fhir google",
    ),
    "one half of a ratio": (
        lambda b: medication(b)["contained"][0]["amount"].pop("denominator"),
        "rules",
    ),
    "an extension with a value and extensions": (
        lambda b: request(b).update(
            extension=[{"url": "urn:x", "valueCode": "a", "extension": [{"url": "urn:y"}]}]
        ),
        "rules",
    ),
    "an extension without its address": (
        lambda b: request(b).update(extension=[{"valueCode": "a"}]),
        "definitions fhir google",
    ),
    "two entries of one address": (
        lambda b: b["entry"][1].update(fullUrl=b["entry"][0]["fullUrl"]),
        "rules",
    ),
    "a collection with a total": (
        lambda b: b.update(total=2),
        "rules",
    ),
    "no type of Bundle": (
        lambda b: b.pop("type"),
        "definitions fhir google",
    ),
    "a resource that R4 has not": (
        lambda b: request(b).update(resourceType="DeviceOrder"),
        "definitions schema fhir google",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_found(name: str) -> None:
    change, finders = FAULTS[name]
    faulty = clean_bundle()
    change(faulty)
    answer = validated(as_json(faulty))
    found = {each for each in NAMES if getattr(answer, each)}
    assert found >= set(finders.split()), answer


def test_every_validator_finds_some_faults() -> None:
    assert {each for _, finders in FAULTS.values() for each in finders.split()} == set(NAMES)


def test_the_clean_bundle_has_no_fault_and_its_numbers_keep_their_letters() -> None:
    text = as_json(clean_bundle())
    assert_valid(text)
    assert '"value": 22,' in text


def test_every_rule_of_the_standard_is_evaluated() -> None:
    faulty = clean_bundle()
    amount(faulty)["value"] = Number("22.50")
    assert json.loads(as_json(faulty))
    assert not [each for each in validated(as_json(faulty)).rules if "not evaluated" in each]


QUESTIONNAIRE: Json = {
    "resourceType": "Questionnaire",
    "url": "https://orderlint.example/fhir/Questionnaire/demo",
    "name": "Demo",
    "status": "draft",
    "item": [
        {"linkId": "therapy", "type": "boolean", "text": "Irrigate", "required": True},
        {
            "linkId": "rate",
            "type": "choice",
            "enableWhen": [{"question": "therapy", "operator": "=", "answerBoolean": True}],
            "answerOption": [{"valueCoding": {"code": "20 mL/h"}, "initialSelected": True}],
        },
    ],
}
FAULTS_OF_QUESTIONNAIRES: dict[str, tuple[Callable[[list[Json]], Any], str]] = {
    "one id twice": (lambda items: items[1].update(linkId="therapy"), "rules"),
    "a group of nothing": (lambda items: items[0].update(type="group"), "rules"),
    "a text with options": (lambda items: items[1].update(type="text"), "rules"),
    "options and a first answer": (
        lambda items: items[1].update(initial=[{"valueString": "20 mL/h"}]),
        "rules",
    ),
    "an option that is a Quantity": (
        lambda items: items[1].update(answerOption=[{"valueQuantity": {"value": 20}}]),
        "definitions schema fhir google",
    ),
    "a condition without its answer": (
        lambda items: items[1]["enableWhen"][0].pop("answerBoolean"),
        "definitions fhir google",
    ),
    "an item of an item that has no type": (
        lambda items: items[1].update(item=[{"linkId": "more"}]),
        "definitions google",
    ),
}


@pytest.mark.parametrize("name", FAULTS_OF_QUESTIONNAIRES)
def test_a_fault_of_a_questionnaire_is_found(name: str) -> None:
    assert_valid(as_json(QUESTIONNAIRE))
    change, finders = FAULTS_OF_QUESTIONNAIRES[name]
    faulty = json.loads(as_json(QUESTIONNAIRE))
    change(faulty["item"])
    answer = validated(as_json(faulty))
    found = {each for each in NAMES if getattr(answer, each)}
    assert found >= set(finders.split()), answer
