"""An order as a Bundle of FHIR R4 (hl7.org/fhir/R4/devicerequest.html): each text as it is."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from orderlint.fhir.bundle.writing import SUBJECT, bundle_text, texts_of
from orderlint.fhir.codes import CODES, UCUM
from orderlint.fhir.json_text import JsonNumber, json_text
from orderlint.fields import field_table
from orderlint.reading import read

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def as_read(text):
    return texts_of(read(f"document: order\nformat: 1\n{text}".encode(), "order.yaml", "order"))


def parsed(text):
    """The JSON with each number by its letters."""
    return json.loads(text, parse_float=JsonNumber, parse_int=JsonNumber)


def resources(texts):
    bundle = parsed(bundle_text(texts))
    assert (bundle["resourceType"], bundle["type"]) == ("Bundle", "collection")
    return [entry["resource"] for entry in bundle["entry"]]


def parameters(texts):
    """What stands under each code of the DeviceRequest's parameters."""
    device = resources(texts)[0]
    found = {}
    for each in device.get("parameter", []):
        (coding,) = each["code"]["coding"]
        assert coding["system"] == CODES
        assert coding["display"] == field_table().display_name(coding["code"])
        (key,) = [key for key in each if key != "code"]
        found[coding["code"]] = {key: each[key]}
    return found


def test_every_setting_of_an_order_stands_in_its_bundle():
    texts, refused = texts_of(read((EXAMPLES / "clean.yaml").read_bytes(), "clean.yaml", "order"))
    assert refused == ()
    device = resources(texts)[0]
    named = {
        "id": device["groupIdentifier"]["value"],
        "status": device["status"],
        "written": device["authoredOn"],
        "starts": device["occurrencePeriod"]["start"],
        "prescriber": device["requester"]["display"],
        "indication": device["reasonCode"][0]["text"],
        "instructions": device["note"][0]["text"],
    }
    assert named == {path: texts[path] for path in named}
    for path, value in parameters(texts).items():
        (inner,) = value.values()
        amount = f"{inner['value']} {inner['unit']}" if "value" in inner else inner["text"]
        assert amount == texts[path]
    assert {*parameters(texts), *named} == {*texts}
    assert device["intent"] == "order"
    assert device["subject"] == {"display": SUBJECT}


@pytest.mark.parametrize(
    ("text", "number", "unit", "code"),
    [
        ("8 mmHg", "8", "mmHg", "mm[Hg]"),
        ("-3.5 cmH2O", "-3.5", "cmH2O", "cm[H2O]"),
        ("0.25 mmHg", "0.25", "mmHg", "mm[Hg]"),
        ("0 mmHg", "0", "mmHg", "mm[Hg]"),
        ("123456789.123456 mmHg", "123456789.123456", "mmHg", "mm[Hg]"),
        ("60 mL/hr", "60", "mL/hr", "mL/h"),
    ],
)
def test_a_plain_quantity_keeps_its_letters(text, number, unit, code):
    quantity = parameters({"treat_above": text})["treat_above"]["valueQuantity"]
    assert quantity == {"value": number, "unit": unit, "system": UCUM, "code": code}
    assert isinstance(quantity["value"], JsonNumber)


@pytest.mark.parametrize(
    "text",
    [
        *("8.0 mmHg", "08 mmHg", "+8 mmHg", "1e1 mmHg", ".5 mmHg", "8. mmHg", "1,000 mL"),
        *("8", "8mmHg", "8  mmHg", " 8 mmHg", "8 mmHg ", "-0 mmHg", "-0.0 mmHg", "\u22125 mmHg"),
        *("8 ml", "8 cc", "8 kPa", "8 cm", "8 million units/L", "8 units/mL", "2-8 mmHg", "high"),
        *("1234567890 mmHg", "0.1234567 mmHg", "８ mmHg", "8 mmHg (tragus)", "8 mL.", "8 mmHg\n"),
    ],
)
def test_what_is_not_plainly_a_number_and_a_unit_is_a_text(text):
    assert parameters({"treat_above": text}) == {
        "treat_above": {"valueCodeableConcept": {"text": text}}
    }


def test_a_number_and_a_unit_in_a_setting_of_words_stays_words():
    found = parameters({"stop_when": "60 mL/h"})
    assert found == {"stop_when": {"valueCodeableConcept": {"text": "60 mL/h"}}}


@pytest.mark.parametrize(
    ("path", "text"),
    [
        *(("status", text) for text in ("Draft", "completed", "on-hold", "entered-in-error")),
        *(("written", text) for text in ("2026-03-02", "2026-03-02T14:10-06:00", "on Monday")),
        *(("starts", text) for text in ("2026-03-02T14:10:00", "2026-02-30T14:10:00Z", " today")),
        *(("starts", f"2026-03-02{text}") for text in ("t14:10:00z", "T24:00:00Z", "T14:10:60Z")),
        ("starts", "2026-03-02T14:10:00+14:30"),
    ],
)
def test_what_has_no_place_in_its_own_element_is_a_parameter(path, text):
    assert parameters({path: text}) == {path: {"valueCodeableConcept": {"text": text}}}
    device = resources({path: text})[0]
    assert not {"status", "authoredOn", "occurrencePeriod"} & {*device}


@pytest.mark.parametrize(
    ("order", "place", "words"),
    [
        ("pauze: 1 mmHg", "3:1", "“pauze” is no setting of an order"),
        ("pause: {uper: 1 mmHg}", "3:9", "“uper” of pause is no setting"),
        ("pause: 22 mmHg", "3:8", "Pause limits is not one value here"),
        ("treat_above: [8 mmHg]", "3:14", "Treat-above level is not one value here"),
        ("treat_above: {of: 8 mmHg}", "3:14", "Treat-above level is not one value here"),
        ("treat_above: true", "3:14", "Treat-above level is written as no text"),
        ('revision: "1"', "3:11", "Revision number is written as no text"),
        ("revision: 1.5", "3:11", "Revision number is written as no text"),
        ("irrigation: {fluid: 9}", "3:21", "Irrigation fluid is written as no text"),
        ("written: 2026", "3:10", "Time written is written as no text"),
    ],
)
def test_what_has_no_place_is_refused_by_name(order, place, words):
    _, (refused,) = as_read(order)
    assert str(refused).startswith(f"order.yaml:{place}: {words}")


def test_all_that_has_no_place_is_named_and_an_empty_value_is_left_out():
    texts, refused = as_read('a: 1\nb: 2\nid: ""\ntherapy:\nirrigation: {additive: {}}')
    assert [str(each.place) for each in refused] == ["order.yaml:3:1", "order.yaml:4:1"]
    assert texts == {}


FLUID = {"status": "active", "irrigation.fluid": "lactated Ringer's"}
ADDITIVE = {
    "irrigation.additive.name": "example antibiotic",
    "irrigation.additive.concentration": "10 mg/L",
}


def test_the_drug_part_says_what_the_pharmacy_needs():
    told = {"irrigation.rate": "60 mL/h", "irrigation.bag": "1 L", "irrigation.daily_max": "2 L"}
    device, drug = resources({**FLUID, **ADDITIVE, **told, "id": "demo-1", "prescriber": "one"})
    (medication,) = drug["contained"]
    for shared in ("groupIdentifier", "status", "intent", "subject", "requester"):
        assert device[shared] == drug[shared]
    assert medication["code"] == {"text": "lactated Ringer's"}
    litre = {"value": "1", "unit": "L", "system": UCUM, "code": "L"}
    assert medication["amount"] == {"numerator": litre, "denominator": {"value": "1"}}
    (ingredient,) = medication["ingredient"]
    assert ingredient["itemCodeableConcept"] == {"text": "example antibiotic"}
    strength = ingredient["strength"]
    assert strength["numerator"] == {"value": "10", "unit": "mg"}
    assert strength["denominator"] == {"value": "1", "unit": "L"}
    (dosage,) = drug["dosageInstruction"]
    assert dosage["doseAndRate"][0]["rateQuantity"]["value"] == "60"
    assert dosage["maxDosePerPeriod"]["numerator"]["unit"] == "L"
    assert dosage["maxDosePerPeriod"]["denominator"]["code"] == "d"


def test_the_drug_part_says_nothing_that_is_not_plain():
    odd = {"irrigation.rate": "60", "irrigation.bag": "1000mL", "irrigation.daily_max": "2,000 mL"}
    _, drug = resources({**FLUID, **odd, "irrigation.additive": "none"})
    assert "dosageInstruction" not in drug
    assert {*drug["contained"][0]} == {"resourceType", "id", "code"}


@pytest.mark.parametrize(
    "texts",
    [
        {"irrigation.rate": "60 mL/h", "status": "active"},
        {"irrigation.fluid": "lactated Ringer's"},
        {**FLUID, "status": "on hold"},
        {**FLUID, "irrigation.additive": "example antibiotic"},
        {**FLUID, "irrigation.additive.class": "antimicrobial"},
    ],
)
def test_no_drug_part_without_a_fluid_a_status_and_what_is_in_it(texts):
    assert len(resources(texts)) == 1


def test_the_same_texts_give_the_same_bytes_and_others_another_name():
    texts = {**FLUID, **ADDITIVE, "id": "demo-1"}
    backwards = dict(reversed(texts.items()))
    assert bundle_text(texts) == bundle_text(backwards)
    others = parsed(bundle_text({**texts, "id": "demo-2"}))["entry"]
    names = {entry["fullUrl"] for entry in [*parsed(bundle_text(texts))["entry"], *others]}
    assert len(names) == 4


def test_what_fits_on_a_line_stands_on_one_and_no_number_changes():
    value = {
        "value": JsonNumber("22.50"),
        "words": "é \u2028",
        "long": ["x" * 80, "y" * 80],
        "is": True,
    }
    assert json_text(value) == (
        '{\n  "value": 22.50,\n  "words": "é \u2028",\n  "long": [\n'
        f'    "{"x" * 80}",\n    "{"y" * 80}"\n  ],\n  "is": true\n}}\n'
    )
