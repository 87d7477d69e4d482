"""A Bundle is read as the order that a file of one would be, or it is refused."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from bundles import (
    PAIRS,
    PATIENT,
    SETTINGS,
    bundle,
    changed,
    coded,
    concept_map,
    device_request,
    found_in,
    medication,
    medication_request,
    parameter,
    with_codes_of_a_site,
)
from jsonschema import Draft202012Validator

import orderlint
from orderlint.fhir.bundle.reading import order_of, orders_in
from orderlint.fhir.codes import NAMED
from orderlint.fields import load_schema
from orderlint.finding import Level, Refused, Verdict
from orderlint.order import State
from orderlint.reading import read
from orderlint.reading.limits import DEEPEST

SEEN = "document: settings-seen\nformat: 1\n"
AT = datetime(2026, 3, 2, 20, tzinfo=UTC)


def verified(whole, **given):
    return orderlint.verify(json.dumps(whole, indent=1), name="order.json", at=AT, **given)


def rules(result):
    return {finding.rule for finding in result.findings}


def order_in(whole):
    (found,) = found_in(whole)
    return order_of(found)


def the_request(whole):
    return whole["entry"][0]["resource"]


def test_the_sample_is_clear():
    result = verified(bundle())
    assert result.verdict is Verdict.CLEAR
    assert (result.findings, result.unchecked, result.not_checked) == ((), (), ())


def test_each_setting_may_be_shown_by_its_path_in_words():
    whole = bundle()
    for each in whole["entry"][0]["resource"]["parameter"]:
        (coding,) = each["code"]["coding"]
        coding["display"] = coding["code"].replace(".", " ")
    assert verified(whole).verdict is Verdict.CLEAR


def test_each_setting_is_read_as_it_is_written():
    order = order_in(bundle())
    for line in SETTINGS.splitlines():
        path, text = line.split(": ", 1)
        assert order.leaves[path].text == text
        assert order.leaves[path].known, path
    assert order.leaves["id"].text == "demo-0417"
    assert {path for path in NAMED if not order.leaves[path].known} == set()


def at_path(node, path):
    """The element at a FHIRPath of names and indices, the type of a choice left out."""
    for step in path.split(".")[1:]:
        name, _, index = step.partition("[")
        choices = [
            key for key in node if key == name or (key.startswith(name) and key != "valueSet")
        ]
        node = node[name] if name in node else node[choices[0]]
        node = node[int(index[:-1])] if index else node
    return node


def test_each_setting_has_its_line_and_its_fhirpath():
    whole = bundle()
    lines = json.dumps(whole, indent=1).split("\n")
    (found,) = found_in(whole)
    order = order_of(found)
    assert len(found.places) > 50
    for path, (place, *_) in found.places.items():
        leaf = order.leaves[path]
        assert leaf.place == place
        element = at_path(whole, place.element)
        text = json.dumps(element, ensure_ascii=False)
        assert leaf.text.split(" ")[0] in text
        assert lines[place.line - 1][place.column - 1 :].startswith((leaf.text.split()[0], '"'))


def test_a_finding_has_the_fhirpath_of_its_setting():
    whole = changed({"value of": "treat_above", "value": '{"valueQuantity": {"value": 8}}'})
    (finding,) = [f for f in verified(whole).findings if f.rule == "unit-missing"]
    number = [p["code"] for p in the_request(whole)["parameter"]].index(coded("treat_above"))
    assert finding.place.element == f"Bundle.entry[0].resource.parameter[{number}].value"
    assert finding.place.where == f"{finding.place}, {finding.place.element}"


@pytest.mark.parametrize("number", ["22.0", "2.2e1", "022.0", "-0", "22.000000000001", "1E400"])
def test_no_digit_of_a_number_is_lost(number):
    """What JSON writes so is held as it stands; what it cannot write is refused."""
    whole = bundle(device_request())
    text = json.dumps(whole).replace('"value": 22,', f'"value": {number},')
    if number.startswith("0"):
        with pytest.raises(Refused):
            orderlint.verify(text)
    else:
        document = read(text.encode(), "order.json")
        (found,) = orders_in(document.root, "order.json")
        assert order_of(found).leaves["pause.upper"].text == f"{number} mmHg"


@pytest.mark.parametrize("value", ["22.0", "22.00", "60.0"])
def test_a_zero_that_a_number_of_json_ends_in_is_none_that_a_person_wrote(value):
    number = value.partition(".")[0]
    text = json.dumps(bundle()).replace(f'"value": {number},', f'"value": {value},')
    assert value in text
    assert orderlint.verify(text, at=AT).verdict is Verdict.CLEAR


def test_a_zero_that_a_text_ends_in_is_asked_about():
    for shown in ('{"valueCodeableConcept": {"text": "8.0 mmHg"}}', '{"valueString": "8.0 mmHg"}'):
        assert rules(verified(changed({"value of": "treat_above", "value": shown}))) == {
            "trailing-zero"
        }


def test_what_a_nurse_would_be_asked_of_an_order_is_asked_of_a_bundle():
    whole = changed({"value of": "irrigation.rate", "value": '{"valueBoolean": true}'})
    assert "kind-not-expected" in rules(verified(bundle(the_request(whole))))


def service_request(orders, **more):
    """The settings in the second home, of R4 as texts or of R5 as parameters."""
    device = device_request()
    taken = ("status", "intent", "subject", "authoredOn", "requester", "reasonCode", "note")
    return {
        "resourceType": "ServiceRequest",
        "id": "2",
        "requisition": device["groupIdentifier"],
        "code": device["codeCodeableConcept"],
        "occurrencePeriod": device["occurrencePeriod"],
        "orderDetail": orders,
        **{key: device[key] for key in taken},
        **more,
    }


DETAILS = {
    "R4": lambda: [
        {**coded(path), "text": text}
        for path, text in (line.split(": ", 1) for line in SETTINGS.splitlines())
    ],
    "R5": lambda: [{"parameter": device_request()["parameter"]}],
}


@pytest.mark.parametrize("release", DETAILS)
def test_a_service_request_is_the_second_home(release):
    service = service_request(DETAILS[release]())
    whole = bundle(service, medication_request(), medication())
    assert verified(whole).verdict is Verdict.CLEAR
    ours, theirs = order_in(bundle()), order_in(whole)
    assert {p: x.text for p, x in ours.leaves.items()} == {
        p: x.text for p, x in theirs.leaves.items()
    }


def test_both_homes_are_one_order_and_must_agree():
    whole = bundle(device_request(), service_request(DETAILS["R4"]()))
    assert verified(whole).verdict is Verdict.CLEAR
    whole["entry"][1]["resource"]["orderDetail"][11]["text"] = "25 mmHg"
    assert "fhir-setting-twice" in rules(verified(whole))


def test_a_setting_may_stand_in_the_drug_part_alone():
    request = device_request()
    request["parameter"] = [
        p for p in request["parameter"] if p["code"] != coded("irrigation.rate")
    ]
    order = order_in(bundle(request, medication_request(), medication()))
    assert order.leaves["irrigation.rate"].text == "60 mL/h"
    assert "dosageInstruction" in order.leaves["irrigation.rate"].place.element


def test_a_medication_may_be_contained_or_a_concept():
    request = medication_request()
    contained = {**request, "contained": [{**medication(), "id": "bag"}]}
    contained["medicationReference"] = {"reference": "#bag"}
    assert verified(bundle(device_request(), contained)).verdict is Verdict.CLEAR
    contained["contained"][0]["code"] = {"text": "sodium chloride 0.9 %"}
    assert "fhir-parts-disagree" in rules(verified(bundle(device_request(), contained)))
    del request["medicationReference"]
    request["medicationCodeableConcept"] = {"text": "Lactated Ringer's"}
    assert verified(bundle(device_request(), request)).verdict is Verdict.CLEAR


def test_one_request_by_itself_is_an_order():
    text = json.dumps(device_request())
    result = orderlint.verify(text, at=AT)
    assert result.verdict is Verdict.CLEAR
    place = result.found.order.leaves["pause.upper"].place
    number = SETTINGS.split("\n").index("pause.upper: 22 mmHg")
    assert place.element == f"DeviceRequest.parameter[{number}].value"


@pytest.mark.parametrize("kind", ["Substance", "Patient", "MedicationKnowledge", "Medication", 7])
@pytest.mark.parametrize("inside", [True, False])
def test_only_a_medication_may_stand_for_the_fluid(kind, inside):
    request = medication_request() | {"medicationReference": {"reference": "#1" if inside else "x"}}
    held = medication() | {"resourceType": kind}
    whole = bundle(device_request(), request | {"contained": [held]} if inside else request)
    if not inside:
        whole["entry"].append({"fullUrl": "x", "resource": held})
    result = verified(whole)
    assert (result.verdict is Verdict.CLEAR) == (kind == "Medication")
    assert strange(result) == (kind != "Medication")


def test_of_two_that_are_contained_under_one_id_neither_is_the_fluid():
    request = medication_request() | {"medicationReference": {"reference": "#1"}}
    request["contained"] = [{"resourceType": "Patient", "id": "1"}, medication()]
    assert strange(verified(bundle(device_request(), request)))


def test_a_reference_to_a_resource_of_another_type_names_no_medication():
    whole = bundle()
    whole["entry"][1]["resource"]["medicationReference"]["type"] = "Substance"
    assert strange(verified(whole))
    whole["entry"][1]["resource"]["medicationReference"]["type"] = "Medication"
    assert verified(whole).verdict is Verdict.CLEAR


DRUG = {"itemCodeableConcept": {"text": "example antibiotic"}}
STRENGTH = {
    "numerator": {"value": 10, "unit": "mg", "system": "http://unitsofmeasure.org", "code": "mg"},
    "denominator": {"value": 1, "unit": "L", "system": "http://unitsofmeasure.org", "code": "L"},
}


def with_additive(ingredients):
    request, bag = device_request(), medication()
    kept = [p for p in request["parameter"] if p["code"] != coded("irrigation.additive")]
    named = {"name": "example antibiotic", "concentration": "10 mg/L", "class": "antimicrobial"}
    kept += [parameter(f"irrigation.additive.{key}", text) for key, text in named.items()]
    return bundle(
        {**request, "parameter": kept}, medication_request(), {**bag, "ingredient": ingredients}
    )


@pytest.mark.parametrize(
    ("ingredients", "agrees"),
    [
        ([{**DRUG, "strength": STRENGTH}], True),
        ([{"itemCodeableConcept": {"text": "lactated Ringer's"}, "isActive": False}, DRUG], True),
        ([DRUG], True),
        ([], False),
        ([{"itemCodeableConcept": {"text": "another drug"}}], False),
        ([{**DRUG, "strength": {**STRENGTH, "numerator": {"value": 20, "unit": "mg"}}}], False),
    ],
)
def test_an_additive_is_that_of_the_bag(ingredients, agrees):
    found = rules(verified(with_additive(ingredients)))
    assert ("fhir-parts-disagree" in found) != agrees


def test_who_has_the_fluid_prepared_has_not_ordered_the_settings():
    whole = bundle()
    del the_request(whole)["requester"]
    assert "missing-prescriber" in rules(verified(whole))


@pytest.mark.parametrize(
    "ingredients",
    [
        [DRUG, DRUG],
        [{**DRUG, "isActive": False}],
        [{"itemReference": {"reference": "Substance/1"}}],
        [{**DRUG, "strength": {**STRENGTH, "denominator": {"value": 2, "unit": "L"}}}],
    ],
)
def test_what_is_not_understood_of_a_bag_is_no_pass(ingredients):
    result = verified(with_additive(ingredients))
    strange = {"fhir-element-not-understood"} & {u.rule for u in result.unchecked}
    assert strange or {"fhir-value-not-plain", "fhir-parts-disagree"} & rules(result)


def test_a_note_that_orders_otherwise_stops_the_order():
    whole = bundle()
    whole["entry"][1]["resource"]["note"] = [{"text": "irrigate at 90 mL/h"}]
    result = verified(whole)
    (finding,) = [f for f in result.findings if f.rule == "text-orders-otherwise"]
    assert finding.place.element == "Bundle.entry[1].resource.note[0].text"
    assert "In the note of the drug part" in finding.says
    assert result.verdict is Verdict.DO_NOT_START


def with_dosage_text(text):
    whole = bundle()
    whole["entry"][1]["resource"]["dosageInstruction"][0]["text"] = text
    return verified(whole)


@pytest.mark.parametrize(
    "text",
    [
        "120 mL/h",
        "6 mL/h",
        "Irrigate at 90 mL/h",
        "120 mL/h as continuous infusion",
        "lactated Ringer's at 120 mL/h",
        "sodium chloride 0.9 % at 60 mL/h",
        "intraventricular irrigation at 120 mL/h; drain height 5 mmHg",
    ],
)
def test_a_dosage_text_that_contradicts_a_setting_stops_the_order(text):
    result = with_dosage_text(text)
    (finding,) = [f for f in result.findings if f.level is Level.DO_NOT_START]
    assert finding.rule == "fhir-parts-disagree"
    assert not result.not_checked


@pytest.mark.parametrize(
    "text",
    [
        "60 mL/h",
        "60 ml/hr continuous",
        "run at 60 mL/h",
        "Lactated Ringer's 60 mL/h as a continuous irrigation",
        "Continuous intraventricular irrigation: 60 mL/h",
        "Irrigate at 60 mL/h. Drain height 5 mmHg.",
    ],
)
def test_a_dosage_text_that_agrees_is_understood(text):
    assert with_dosage_text(text).verdict is Verdict.CLEAR


@pytest.mark.parametrize(
    "text",
    [
        "60 mL",
        "60",
        "60 mL/h if tolerated",
        "not 60 mL/h",
        "was 60 mL/h",
        "about 60 mL/h",
        "60 or 90 mL/h",
        "60 to 90 mL/h",
        "60 mL/h for 2 h",
        "60 mL/h, then 30 mL/h",
        "60 mL/h IV",
        "saline and heparin at 60 mL/h",
    ],
)
def test_a_dosage_text_that_is_not_understood_whole_keeps_an_order_incomplete(text):
    result = with_dosage_text(text)
    assert [each.name for each in result.not_checked] == ["dosage text"]
    assert result.verdict in {Verdict.INCOMPLETE, Verdict.CLARIFY, Verdict.DO_NOT_START}


def of_group(group, born, contained=False):
    """The sample, which starts on 2026-03-02, for a patient of a group with a date of birth."""
    whole = changed(
        {"value of": "patient.group", "value": f'{{"valueCodeableConcept": {{"text": "{group}"}}}}'}
    )
    patient = whole["entry"][-1]["resource"]
    patient["birthDate"] = born
    if contained:
        whole["entry"].pop()
        for entry in whole["entry"][:2]:
            entry["resource"]["subject"] = {"reference": "#p"}
            entry["resource"]["contained"] = [{**patient, "id": "p"}]
    return verified(whole)


AGE = "fhir-age-not-of-group"


@pytest.mark.parametrize(
    ("group", "first", "last"),
    [
        # The first and the last date of birth on which nothing is said: a day is left at each end.
        ("infant", "2024-03-02", "2026-03-02"),
        ("child", "2004-03-02", "2025-03-03"),
        ("adult", "1900-01-01", "2014-03-03"),
    ],
)
def test_an_age_that_no_meaning_of_the_group_allows_stops_the_order(group, first, last):
    for born in (first, last, first[:4], last[:4], first[:7], last[:7]):
        assert AGE not in rules(of_group(group, born)), born
    others = {"infant": "2024-02-28", "child": "2025-03-04", "adult": "2014-03-04"}
    assert of_group(group, others[group]).verdict is Verdict.DO_NOT_START
    result = of_group(group, others[group], contained=True)
    (finding,) = [f for f in result.findings if f.rule == AGE]
    assert finding.path == "patient.group"
    assert others[group] in finding.says


@pytest.mark.parametrize(
    ("group", "born"),
    [
        ("infant", "2023"),
        ("adult", "2015"),
        ("adult", "2014-04"),
        ("child", "2003"),
        ("adult", "2026"),
    ],
)
def test_a_year_or_a_month_of_birth_is_enough_where_it_settles_the_age(group, born):
    assert AGE in rules(of_group(group, born))


@pytest.mark.parametrize("born", ["0001", "0001-01-01", "9999", "9999-12", "9999-12-31"])
def test_a_date_of_birth_at_an_end_of_the_calendar_is_of_no_adult(born):
    assert AGE in rules(of_group("adult", born))


@pytest.mark.parametrize("starts", ["0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z"])
def test_an_order_that_starts_at_an_end_of_the_calendar_is_checked(starts):
    whole = bundle()
    whole["entry"][-1]["resource"]["birthDate"] = "1961"
    whole["entry"][0]["resource"]["occurrencePeriod"]["start"] = starts
    assert verified(whole).verdict is Verdict.DO_NOT_START


@pytest.mark.parametrize("born", ["2025-13-01", "2025-02-30", "May 1961", "1961-5-3", "0000"])
def test_what_is_no_date_of_birth_is_not_understood(born):
    assert strange(of_group("adult", born))


def test_of_a_patient_whom_the_order_does_not_name_no_age_is_taken():
    whole = bundle()
    whole["entry"].append({"resource": {"resourceType": "Patient", "id": "9", "birthDate": "2025"}})
    assert AGE not in rules(verified(whole))
    assert strange(verified(whole))


def test_a_second_dosage_or_rate_is_not_understood_and_may_not_contradict_the_first():
    for rate, rule in ((60, set()), (120, {"fhir-parts-disagree"})):
        amount = {**DOSAGE["doseAndRate"][0]["rateQuantity"], "value": rate}
        again = {"doseAndRate": [{"rateQuantity": amount}]}
        twice = {"doseAndRate": [*DOSAGE["doseAndRate"], *again["doseAndRate"]]}
        for dosages in ([DOSAGE, again], [twice]):
            whole = bundle()
            whole["entry"][1]["resource"]["dosageInstruction"] = dosages
            result = verified(whole)
            assert strange(result)
            assert rules(result) == rule


DOSAGE = medication_request()["dosageInstruction"][0]


@pytest.mark.parametrize(
    ("part", "element", "name"),
    [
        (1, {"note": [{"text": "as usual"}]}, "note of the drug part"),
        (1, {"dosageInstruction": [DOSAGE | {"patientInstruction": "lie"}]}, "to the patient"),
        (1, {"dosageInstruction": [DOSAGE | {"text": "70 mL/h if awake"}]}, "dosage text"),
        (1, {"dosageInstruction": [DOSAGE | {"additionalInstruction": [{"text": "x"}]}]}, "addit"),
        (0, {"note": [{"text": "call before clamping"}, {"text": "second"}]}, "note"),
    ],
)
def test_a_free_text_beside_the_settings_is_shown(part, element, name):
    whole = bundle()
    whole["entry"][part]["resource"].update(element)
    result = verified(whole)
    (shown,) = result.not_checked
    assert name in shown.name
    assert strange(result)


def test_a_free_text_that_says_what_the_settings_say_is_none():
    whole = bundle()
    text = "irrigate at 60 mL/h; drain height 5 mmHg"
    whole["entry"][1]["resource"]["dosageInstruction"][0]["text"] = text
    assert verified(whole).verdict is Verdict.CLEAR


def test_two_notes_that_say_otherwise_are_both_shown():
    whole = bundle()
    notes = [{"text": "run at 90 mL/h"}, {"text": "run at 30 mL/h"}]
    whole["entry"][1]["resource"]["note"] = notes
    result = verified(whole)
    (finding,) = result.findings
    assert finding.rule == "text-number-differs"
    told = [finding.place, *(mention.place for mention in finding.also)]
    assert [place.element for place in told] == [note.place.element for note in result.not_checked]


A, B = {"reference": "Patient/1"}, {"reference": "Patient/2"}
ADDRESS = {"reference": "https://site.example/Patient/1"}


@pytest.mark.parametrize(
    ("one", "other", "is_same"),
    [
        (A, A, True),
        (A, B, False),
        (A, ADDRESS, True),
        (ADDRESS, {"reference": "https://site.example/Patient/2"}, False),
        (A, {"reference": "Patient/1/_history/2"}, True),
        (A, {"reference": "urn:uuid:1"}, None),
        (B, {"reference": "https://site.example/Patient/2"}, True),
        (B, {"reference": "https://other.example/Patient/2"}, False),
        ({**A, "identifier": {"value": "7"}}, {**A, "identifier": {"value": "8"}}, None),
        ({"reference": "#p"}, {"reference": "#p"}, None),
        ({"identifier": {"value": "7"}}, {"identifier": {"value": "7"}}, True),
        ({"identifier": {"value": "7"}}, {"identifier": {"value": "8"}}, False),
        ({"display": "whoever signs"}, {"display": "Whoever signs"}, True),
        ({"display": "one"}, {"display": "another"}, False),
        ({**A, "display": "one"}, {**A, "display": "another"}, None),
        (A, {"display": "somebody"}, None),
    ],
)
def test_two_subjects_are_one_another_or_nobody_can_tell(one, other, is_same):
    whole = bundle()
    for part, subject in ((0, one), (1, other)):
        whole["entry"][part]["resource"]["subject"] = subject
    if "Patient/1" not in json.dumps([one, other]):
        del whole["entry"][3]
    result = verified(whole)
    assert ("fhir-two-patients" in rules(result)) == (is_same is False)
    assert strange(result) == (is_same is None)


@pytest.mark.parametrize(
    ("subject", "is_subject"),
    [
        (A, True),
        ({"identifier": {"system": "urn:x", "value": "7"}}, True),
        ({"identifier": {"system": "urn:x", "value": "8"}}, False),
        ({"identifier": {"value": "7"}}, False),
        ({"display": "whoever signs"}, False),
        (B, False),
    ],
)
def test_a_patient_in_the_file_is_the_subject_or_is_asked_about(subject, is_subject):
    whole = bundle()
    for part in (0, 1):
        whole["entry"][part]["resource"]["subject"] = subject
    whole["entry"][3]["resource"]["identifier"] = [{"system": "urn:x", "value": "7"}]
    result = verified(whole)
    assert (result.verdict is Verdict.CLEAR, strange(result)) == (is_subject, not is_subject)


def test_a_second_patient_in_the_file_is_asked_about():
    result = verified(bundle(*[e["resource"] for e in bundle()["entry"]], {**PATIENT, "id": "2"}))
    (shown,) = result.not_checked
    assert shown.place.element == "Bundle.entry[4].resource"
    assert strange(result)


NOBODY = [
    {},
    {"display": ""},
    {"display": " "},
    {"identifier": {}},
    {"reference": "", "type": "Patient"},
]


@pytest.mark.parametrize("subject", NOBODY, ids=json.dumps)
def test_a_subject_that_names_nobody_is_none(subject):
    whole = bundle()
    del whole["entry"][3]
    for part in (0, 1):
        whole["entry"][part]["resource"]["subject"] = subject
    result = verified(whole)
    assert strange(result)
    assert {shown.place.element for shown in result.not_checked} >= {
        f"Bundle.entry[{part}].resource" for part in (0, 1)
    }


@pytest.mark.parametrize(("version", "is_that"), [("2", True), ("3", False), (None, False)])
def test_a_medication_is_of_the_version_that_is_named(version, is_that):
    whole = bundle()
    whole["entry"][1]["resource"]["medicationReference"]["reference"] += "/_history/2"
    whole["entry"][2]["resource"]["meta"] = {"versionId": version} if version else {}
    assert strange(verified(whole)) != is_that


def test_a_page_of_more_is_not_the_whole_order():
    pages = [{"relation": "self", "url": "https://site.example/?page=1"}]
    assert verified({**bundle(), "type": "searchset", "link": pages}).verdict is Verdict.CLEAR
    pages.append({"relation": "next", "url": "https://site.example/?page=2"})
    assert strange(verified({**bundle(), "type": "searchset", "link": pages}))


def test_a_name_that_is_no_word_is_quoted_in_the_fhirpath():
    whole = bundle()
    the_request(whole).update({"a b": 1, "c" * 500: 1})
    first, second = verified(whole).not_checked
    assert first.place.element == "Bundle.entry[0].resource.`a b`"
    assert len(second.place.element) < 150


def test_an_order_for_a_group_is_not_understood():
    whole = bundle(device_request() | {"subject": {"reference": "Group/1"}})
    assert strange(verified(whole))


@pytest.mark.parametrize("count", [400])
def test_many_orders_are_read_in_one_pass(count):
    """Work grows as the file does: each order is looked at by itself, and once."""
    small = {k: device_request()[k] for k in ("resourceType", "status", "intent", "subject")}
    code = {"codeCodeableConcept": coded("order")}
    orders = [
        {**small, **code, "id": f"{n}", "groupIdentifier": {"value": f"{n}"}} for n in range(count)
    ]
    took = []
    for size in (count // 4, count):
        document = read(json.dumps(bundle(*orders[:size])).encode(), "drafts.json")
        began = time.process_time()
        assert len(orders_in(document.root, "drafts.json", alone=False)) == size
        took.append(time.process_time() - began)
    assert took[1] < 10 * took[0]


# What is no order, or not one.


def refusal(whole):
    with pytest.raises(Refused) as refused:
        verified(whole)
    assert refused.value.place.file == "order.json"
    assert refused.value.place.line >= 1
    return refused.value.message


def test_a_bundle_without_an_order_of_ours_is_refused():
    other = {**device_request(), "codeCodeableConcept": {"text": "a walker"}, "parameter": []}
    assert "holds no order" in refusal(bundle(other, PATIENT))
    assert found_in(bundle(other, PATIENT)) == ()


def test_two_orders_are_refused_and_can_be_had_one_by_one():
    other = device_request() | {"id": "9", "groupIdentifier": {"value": "demo-0999"}}
    whole = bundle(device_request(), other)
    assert "holds 2 orders" in refusal(whole)
    first, second = found_in(whole)
    assert order_of(first).leaves["id"].text == "demo-0417"
    assert order_of(second).leaves["id"].text == "demo-0999"


def test_what_was_entered_in_error_is_refused():
    whole = bundle()
    the_request(whole)["status"] = "entered-in-error"
    assert "entered in error" in refusal(whole)


@pytest.mark.parametrize("kind", ["history", "message", "document", "batch-response", "x", None])
def test_a_bundle_of_past_or_quoted_resources_is_refused(kind):
    whole = {**bundle(), "type": kind}
    assert "its type is one of" in refusal(whole)


@pytest.mark.parametrize("kind", ["collection", "transaction", "batch", "searchset"])
def test_a_bundle_of_what_is_or_is_to_be_is_read(kind):
    assert verified({**bundle(), "type": kind}).verdict is Verdict.CLEAR


def test_a_resource_is_no_other_document():
    with pytest.raises(Refused, match="resource of FHIR; a site policy is wanted"):
        orderlint.load_policy(json.dumps(bundle()))


# Hostile input: a refusal with its place, and no traceback.


def hostile():
    deep = "[" * 100_000
    yield "deep", json.dumps(bundle())[:-1] + f', "extension": {deep}'
    inside = {"extension": []}
    for _ in range(DEEPEST):
        inside = {"extension": [inside]}
    yield "nested", json.dumps({**bundle(), **inside})
    yield "many", json.dumps({**bundle(), "entry": [{}] * 100_000})
    yield "wide", json.dumps({**bundle(), **{f"x{n}": 1 for n in range(500)}})
    yield "twice", json.dumps(bundle()).replace('"status":', '"status": "active", "status":', 1)
    yield "long", json.dumps(bundle()).replace("lactated", "l" * 30_000)
    yield "digits", json.dumps(bundle()).replace('"value": 22', '"value": 2' + "2" * 5_000)
    yield "escaped", json.dumps(bundle()).replace("lactated", "lact\\u202eated")
    yield "cut", json.dumps(bundle())[:-30]


@pytest.mark.parametrize(("name", "text"), [*hostile()])
def test_what_is_hostile_is_refused_with_its_place(name, text):
    with pytest.raises(Refused) as refused:
        orderlint.verify(text, name=f"{name}.json")
    assert str(refused.value).startswith(f"{name}.json:")


SHAPES = [None, 7, [], {}, ["text"], {"x": [{"y": 1}]}]


@pytest.mark.parametrize("part", [0, 1, 2])
@pytest.mark.parametrize("shape", SHAPES, ids=json.dumps)
def test_no_shape_of_an_element_fails_the_tool_or_passes(shape, part):
    """Each element of the parts in turn has another shape than the standard's."""
    clear = set()
    for key in bundle()["entry"][part]["resource"]:
        whole = bundle()
        whole["entry"][part]["resource"][key] = shape
        try:
            result = verified(whole)
        except Refused:
            continue
        clear |= {key} if result.verdict is Verdict.CLEAR else set()
    optional = {"note", "dosageInstruction", "requester", "status"}
    may_be_left_out = optional if shape in (None, [], {}) else set()
    assert clear <= {"id"} | may_be_left_out


# What is not understood.


def strange(result):
    return "fhir-element-not-understood" in {item.rule for item in result.unchecked}


def test_a_setting_that_may_stand_elsewhere_is_not_called_missing():
    request = device_request()
    request["parameter"] = [
        p for p in request["parameter"] if p["code"] != coded("drainage.height")
    ]
    assert "missing-drainage-height" in rules(verified(bundle(request)))
    request["extension"] = [{"url": "https://site.example/height", "valueString": "5 mmHg"}]
    result = verified(bundle(request))
    assert "missing-drainage-height" not in rules(result)
    assert result.found.order.leaves["drainage.height"].state is State.UNREADABLE
    assert strange(result)
    (shown,) = result.not_checked
    assert shown.place.element == "Bundle.entry[0].resource.extension"
    assert "5 mmHg" in shown.text


def test_other_requests_in_the_file_are_said_and_in_a_list_of_drafts_are_not():
    other = {"resourceType": "ServiceRequest", "id": "7", "code": {"text": "clamp the drain"}}
    whole = bundle(device_request(), other)
    assert strange(verified(whole))
    document = read(json.dumps(whole).encode(), "drafts.json")
    (found,) = orders_in(document.root, "drafts.json", alone=False)
    assert found.not_understood == ()


def test_a_drug_of_nobody_is_none_of_the_order_among_drafts():
    other = medication_request() | {"id": "8", "status": "active"}
    del other["groupIdentifier"]
    document = read(json.dumps(bundle(device_request(), other)).encode(), "drafts.json")
    (found,) = orders_in(document.root, "drafts.json", alone=False)
    assert (found.faults, found.not_understood) == ((), ())


@pytest.mark.parametrize(
    ("part", "element"),
    [
        (0, {"text": {"status": "additional", "div": "<div>clamp</div>"}}),
        (0, {"meta": {"tag": [{"code": "SUBSETTED"}]}}),
        (0, {"contained": [{"resourceType": "DeviceRequest"}]}),
        (0, {"requester": {"reference": "Practitioner/1"}}),
        (0, {"reasonCode": [{"text": "one"}, {"text": "two"}]}),
        (0, {"codeCodeableConcept": {"text": "a walker"}}),
        (0, {"priorRequest": [{"reference": "DeviceRequest/77"}]}),
        (0, {"occurrenceTiming": {}}),
        (0, {"codeCodeableConcept": None}),
        (0, {"subject": None}),
        (1, {"subject": None}),
        (1, {"medicationReference": None}),
        (2, {"code": None}),
        (1, {"subject": {"display": "somebody"}}),
        (1, {"dosageInstruction": [{}, {}]}),
        (1, {"dosageInstruction": [{"doseAndRate": [{"rateRange": {}}]}]}),
        (1, {"medicationReference": {"reference": "Medication/77"}}),
        (2, {"code": {"text": "lactated Ringer's", "coding": [{"display": "bag no. 7"}]}}),
        (0, {"status": None}),
        (0, {"codeCodeableConcept": {"coding": [*coded("order")["coding"], {"code": "x"}]}}),
        (1, {"authoredOn": "2026-03-02T19:11:00Z"}),
        (1, {"requester": {"display": "another physician"}}),
        (1, {"dosageInstruction": [{}]}),
        (1, {"dispenseRequest": {"validityPeriod": {"end": "2026-03-02"}}}),
        (2, {"form": {"text": "tablet"}}),
        (2, {"batch": {"expirationDate": "2025-01-01"}}),
    ],
)
def test_what_may_change_the_order_is_said(part, element):
    whole = bundle()
    whole["entry"][part]["resource"].update(element)
    assert strange(verified(whole))


@pytest.mark.parametrize(
    ("part", "element"),
    [
        (0, {"text": {"status": "generated", "div": "<div>the order</div>"}}),
        (0, {"meta": {"tag": [{"code": "demo"}], "versionId": "3"}}),
        (0, {"contained": [{"resourceType": "Practitioner", "id": "p"}]}),
        (0, {"priority": "stat", "encounter": {"reference": "Encounter/1"}}),
        (1, {"dispenseRequest": {"numberOfRepeatsAllowed": 2}}),
        (1, {"authoredOn": "2026-03-02T19:10:00Z"}),
        (2, {"form": {"text": "Solution"}, "batch": {"lotNumber": "7"}}),
        (2, {"code": {"text": "lactated Ringer's", "coding": [{"display": "LR"}]}}),
    ],
)
def test_what_changes_nothing_is_not_said(part, element):
    whole = bundle()
    whole["entry"][part]["resource"].update(element)
    assert verified(whole).verdict is Verdict.CLEAR


def test_a_modifier_within_what_changes_nothing_counts():
    whole = bundle()
    modifier = {"modifierExtension": [{"url": "https://site.example/not"}]}
    whole["entry"][1]["resource"]["dispenseRequest"] = {"initialFill": modifier}
    (finding,) = verified(whole).findings
    assert finding.rule == "fhir-modifier-not-understood"
    assert finding.place.element.endswith("dispenseRequest.initialFill.modifierExtension")


# The codes of a site.


def test_the_codes_of_a_site_are_mapped():
    whole = with_codes_of_a_site()
    assert "holds no order" in refusal(whole)
    assert verified(whole, concept_map=concept_map(PAIRS)).verdict is Verdict.CLEAR
    loaded = orderlint.load_concept_map(json.dumps(concept_map(PAIRS)))
    assert verified(whole, concept_map=loaded).verdict is Verdict.CLEAR


def test_a_code_that_is_not_mapped_is_not_understood():
    pairs = [pair for pair in PAIRS if pair[1] != "pause.upper"]
    result = verified(with_codes_of_a_site(), concept_map=concept_map(pairs))
    assert strange(result)
    assert result.found.order.leaves["pause.upper"].state is State.UNREADABLE


@pytest.mark.parametrize(
    ("made", "says"),
    [
        (concept_map(PAIRS, "wider"), "equal or equivalent"),
        (concept_map(PAIRS, target="https://site.example/other"), "A group maps to"),
        (concept_map([("S1", "pause.uper")]), "no setting"),
        (concept_map([("S1", "pause.upper"), ("S1", "pause.lower")]), "two settings"),
        (concept_map([]), "maps no code"),
        (concept_map(PAIRS) | {"status": "retired"}, "retired"),
        (bundle(), "no ConceptMap"),
    ],
)
def test_a_map_that_is_not_plain_is_refused(made, says):
    with pytest.raises(Refused, match=says) as refused:
        orderlint.load_concept_map(json.dumps(made), name="map.json")
    assert str(refused.value).startswith("map.json:")


MODIFIER = [{"url": "https://site.example/not", "valueBoolean": True}]


def changed_map(*steps, **more):
    """A map with more in the element at these steps."""
    made = concept_map(PAIRS[:2])
    inner = made
    for step in steps:
        inner = inner[step]
    inner.update(more)
    return made


TARGET = ("group", 0, "element", 0, "target", 0)


@pytest.mark.parametrize("steps", [TARGET[:end] for end in (0, 2, 4, 6)])
@pytest.mark.parametrize(
    "key", ["modifierExtension", "implicitRules", "extension", "negated", "_code"]
)
def test_a_map_with_what_may_change_its_meaning_is_refused(steps, key):
    text = json.dumps(changed_map(*steps, **{key: MODIFIER}), indent=1)
    with pytest.raises(Refused, match=f"“{key}”") as refused:
        orderlint.load_concept_map(text, name="map.json")
    line = next(n for n, row in enumerate(text.split("\n"), 1) if f'"{key}"' in row)
    column = text.split("\n")[line - 1].index('"') + 1
    assert str(refused.value).startswith(f"map.json:{line}:{column}: ")


@pytest.mark.parametrize(
    "changes",
    [
        {"meta": {"profile": ["x"], "modifierExtension": MODIFIER}},
        {"contact": [{"telecom": [{"modifierExtension": MODIFIER}]}]},
        {"contained": [{"resourceType": "ValueSet", "implicitRules": "https://site.example/r"}]},
        {"group": {}},
        {"group": [*concept_map(PAIRS)["group"], "more"]},
    ],
)
def test_a_map_is_refused_for_a_modifier_anywhere_or_another_shape(changes):
    with pytest.raises(Refused, match=r"map\.json:\d+:\d+: "):
        orderlint.load_concept_map(json.dumps(concept_map(PAIRS) | changes), name="map.json")


def test_a_map_that_maps_what_it_does_not_list_is_refused():
    made = changed_map("group", 0, unmapped={"mode": "fixed", "code": "pause.upper"})
    with pytest.raises(Refused, match=r"map\.json:1:\d+: “unmapped”"):
        orderlint.load_concept_map(json.dumps(made), name="map.json")


def test_what_names_a_map_or_is_shown_of_it_changes_nothing():
    made = changed_map(*TARGET, display="x", comment="as agreed", id="t1")
    made["group"][0]["element"][0]["display"] = "upper limit"
    made["group"][0] |= {"sourceVersion": "1", "targetVersion": "2"}
    made |= {"id": "m", "url": "https://site.example/m", "text": {"status": "generated", "div": ""}}
    made |= {"sourceUri": "https://site.example/codes", "contact": [{"name": "the site"}]}
    assert len(orderlint.load_concept_map(json.dumps(made)).codes) == 2


# Every verb.


def test_every_verb_reads_a_bundle():
    text = json.dumps(bundle())
    assert orderlint.ask(text, at=AT).verdict is Verdict.CLEAR
    assert orderlint.plan(text, start=AT, hours=2, at=AT).verdict is Verdict.CLEAR
    assert orderlint.read_back(text, SEEN, at=AT).found.ordered.assessment.findings == ()
    compared = orderlint.compare(text, text, at=AT)
    assert compared.found.settings == ()


def test_nothing_of_it_is_imported_for_another_file():
    code = (
        "import sys, orderlint.cli as c\n"
        "try: c.main(['verify', 'examples/clean.yaml'])\n"
        "except SystemExit: pass\n"
        "sys.stderr.write(' '.join(name for name in sys.modules if 'fhir' in name))"
    )
    root = Path(__file__).resolve().parents[2]
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, cwd=root)
    assert b"Verdict" in ran.stdout
    assert ran.stderr == b""


REPORTS = {
    "findings": lambda text: orderlint.verify(text, at=AT),
    "message": lambda text: orderlint.ask(text, at=AT),
    "plan": lambda text: orderlint.plan(text, start=AT, hours=2, at=AT),
    "readback": lambda text: orderlint.read_back(text, SEEN, at=AT),
    "comparison": lambda text: orderlint.compare(text, text, at=AT),
}


@pytest.mark.parametrize("schema", REPORTS)
def test_each_report_is_as_its_schema_says(schema):
    whole = changed({"DeviceRequest.intent": "plan", "DeviceRequest.extension": "[{}]"})
    report = REPORTS[schema](json.dumps(whole)).render("json")
    assert '"element": "Bundle.entry[0].resource.extension"' in report
    errors = Draft202012Validator(load_schema(schema)).iter_errors(json.loads(report))
    assert [error.message for error in errors] == []


@pytest.mark.parametrize("form", ["text", "json", "html"])
def test_the_fhirpath_stands_in_each_form(form):
    whole = bundle()
    the_request(whole)["intent"] = "plan"
    assert "Bundle.entry[0].resource.intent" in verified(whole).render(form)
