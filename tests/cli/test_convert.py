"""The verb `convert`: an order to FHIR and back, and what has no place in the other form."""

from __future__ import annotations

import json
import re

import pytest
from running import AT, CLEAN, run

from orderlint.fhir.codes import CODES

EXAMPLES = CLEAN.parent


@pytest.fixture(scope="module")
def written():
    """The clean order as a Bundle."""
    return run("convert", CLEAN, "--to", "fhir").out


@pytest.fixture
def bundle(written):
    """The same, to be changed."""
    return json.loads(written)


def back(bundle, *options):
    data = json.dumps(bundle).encode()
    return run("convert", "-", "--to", "orderlint", *options, stdin=data)


def test_an_order_goes_to_a_bundle_and_back(tmp_path):
    resource, order = tmp_path / "order.json", tmp_path / "order.yaml"
    ran = run("convert", CLEAN, "--to", "fhir", "--output", resource)
    assert (ran.status, ran.out, ran.err) == (0, b"", "")
    ran = run("convert", resource, "--to", "orderlint", "--output", order)
    assert (ran.status, ran.out, ran.err) == (0, b"", "")
    assert order.read_text(encoding="utf-8").startswith(f"# From {resource}.\ndocument: order\n")
    assert run("verify", *AT, order).status == 0
    there = run("convert", "-", "--to", "fhir", stdin=order.read_bytes())
    assert there.out == resource.read_bytes()


def test_the_drug_part_must_agree(bundle):
    _, drug = (entry["resource"] for entry in bundle["entry"])
    drug["dosageInstruction"][0]["doseAndRate"][0]["rateQuantity"]["value"] = 90
    ran = back(bundle)
    assert (ran.status, ran.out) == (2, b"")
    assert "60 mL/h" in ran.err
    assert "90 mL/h" in ran.err
    assert "Bundle.entry[0].resource.parameter[14].value" in ran.err


@pytest.mark.parametrize(
    ("element", "value"),
    [
        ("doNotPerform", True),
        ("intent", "proposal"),
        ("status", "on-hold"),
        ("status", "entered-in-error"),
        ("modifierExtension", [{"url": "https://other.example/x", "valueBoolean": True}]),
        ("extension", [{"url": "https://other.example/x", "valueString": "8 mmHg"}]),
    ],
)
def test_an_order_with_a_hazard_is_refused_by_name(bundle, tmp_path, element, value):
    bundle["entry"][0]["resource"][element] = value
    order = tmp_path / "order.yaml"
    ran = back(bundle, "--output", order)
    assert (ran.status, ran.out) == (2, b"")
    assert ran.err.startswith("<stdin>:1:")
    assert not order.exists()


def test_two_patients_are_refused(bundle):
    for number, entry in enumerate(bundle["entry"]):
        entry["resource"]["subject"] = {"reference": f"Patient/{number}"}
    ran = back(bundle)
    assert (ran.status, ran.out) == (2, b"")
    assert "Bundle.entry[1].resource.subject" in ran.err


def test_a_text_beside_the_instructions_becomes_a_comment(bundle):
    bundle["entry"][1]["resource"]["note"] = [{"text": "keep\nthe label"}]
    ran = back(bundle)
    assert (ran.status, ran.err) == (1, "")
    second = ran.out.decode().splitlines()[1]
    assert second.startswith("# Bundle.entry[1].resource.note[0]")
    assert "keep\\u{000A}the label" in second
    assert run("verify", *AT, "-", stdin=ran.out).status == 0


def test_a_text_beside_the_instructions_that_says_otherwise_is_refused(bundle):
    bundle["entry"][1]["resource"]["note"] = [{"text": "irrigate at 20 mL/h"}]
    ran = back(bundle)
    assert (ran.status, ran.out) == (2, b"")
    assert "20 mL/h" in ran.err


def test_a_text_in_which_a_setting_may_stand_that_the_order_has_not_is_refused(bundle):
    held = bundle["entry"][0]["resource"]
    own = "irrigation.daily_max"
    held["parameter"] = [p for p in held["parameter"] if p["code"]["coding"][0]["code"] != own]
    bundle["entry"][1]["resource"]["note"] = [{"text": "daily limit 2000 mL"}]
    ran = back(bundle)
    assert (ran.status, ran.out) == (2, b"")
    says = (
        "“daily limit 2000 mL” is a free text beside the instructions. A setting may stand in it."
    )
    assert says in ran.err


def _of_drug(**values):
    return lambda entries: entries[1]["resource"].update(values)


def _of_both(**values):
    return lambda entries: [each["resource"].update(values) for each in entries]


def _without(key, *parts):
    return lambda entries: [entries[part]["resource"].pop(key) for part in parts]


def _with_service(entries):
    """Some of the settings once more, for somebody whom nobody can tell from the first."""
    held = entries[0]["resource"]
    kept = ("status", "intent", "authoredOn", "requester", "occurrencePeriod")
    service = {key: held[key] for key in kept}
    service |= {"resourceType": "ServiceRequest", "code": held["codeCodeableConcept"]}
    service |= {"requisition": held["groupIdentifier"], "subject": {"reference": "Patient/2"}}
    entries.append({"resource": service})


def _shown_otherwise(entries):
    for entry, name in zip(entries, ("one", "another"), strict=True):
        entry["resource"]["subject"] = {"reference": "Patient/1", "display": name}


EARLIER = {"reference": "MedicationRequest/9"}
UNSAID = {
    "no intent": (_without("intent", 0, 1), "resource “", "has no intent"),
    "no status of the drug part": (_without("status", 1), "entry[1].resource", "has no status"),
    "no subject": (_without("subject", 0, 1), "entry[0].resource", "has no subject"),
    "a group": (_of_both(subject={"reference": "Group/1"}), "resource.subject", "is no patient"),
    "two names": (_shown_otherwise, "entry[1].resource.subject", "is shown by another name"),
    "another patient": (_with_service, "entry[2].resource.subject", "may be another patient"),
    "an earlier prescription": (
        _of_drug(priorPrescription=EARLIER),
        "entry[1].resource.priorPrescription",
        "is an earlier order that is not in the file",
    ),
    "an earlier order": (
        lambda entries: entries[0]["resource"].update(priorRequest=[EARLIER]),
        "entry[0].resource.priorRequest[0]",
        "is an earlier order that is not in the file",
    ),
    "another requester": (
        _of_drug(requester={"display": "another physician"}),
        "entry[1].resource.requester",
        "may be another requester",
    ),
    "another time": (
        _of_drug(authoredOn="2026-03-02T19:11:00Z"),
        "entry[1].resource.authoredOn",
        "is not when the settings were written",
    ),
}


@pytest.mark.parametrize("name", UNSAID)
def test_what_keeps_a_bundle_incomplete_and_no_order_can_say_is_refused(bundle, name):
    """The order by itself would be clear, which the Bundle is not."""
    change, element, why = UNSAID[name]
    change(bundle["entry"])
    assert run("verify", *AT, "-", stdin=json.dumps(bundle).encode()).status == 1
    ran = back(bundle)
    assert (ran.status, ran.out) == (2, b"")
    (line, *_) = [line for line in ran.err.splitlines() if why in line]
    assert re.match(r"<stdin>:1:\d+: Bundle\.entry", line)
    assert element in line


def test_an_explanation_shows_each_setting_and_writes_only_to_the_output(tmp_path, bundle):
    ran = run("convert", CLEAN, "--to", "fhir", "--explain")
    assert (ran.status, ran.err) == (0, "")
    assert "66 settings." in ran.text
    assert "treat_above: “8 mmHg” (23:14)" in ran.text
    assert "Bundle.entry[0].resource.parameter[13].value" in ran.text
    drug = "Bundle.entry[1].resource.dosageInstruction[0].doseAndRate[0].rate"
    assert f"Bundle.entry[0].resource.parameter[14].value, {drug}" in ran.text
    assert "resourceType" not in ran.text
    order = tmp_path / "order.yaml"
    ran = back(bundle, "--explain", "--output", order)
    assert "Nothing: all of it is in a setting, or changes none." in ran.text
    assert order.exists()


def test_an_explanation_says_why_nothing_is_written(bundle):
    bundle["entry"][0]["resource"]["extension"] = [{"valueString": "8 mmHg"}]
    ran = back(bundle, "--explain")
    assert ran.status == 2
    assert "Nothing was written, because of this" in ran.text
    assert "Bundle.entry[0].resource.extension “8 mmHg”" in ran.text


def test_all_that_has_no_place_in_fhir_is_named(tmp_path):
    resource = tmp_path / "order.json"
    misspelt = EXAMPLES / "misspelt-keys.yaml"
    ran = run("convert", misspelt, "--to", "fhir", "--output", resource)
    assert (ran.status, ran.out) == (2, b"")
    first, second = ran.err.splitlines()
    assert first.startswith(f"{misspelt}:24:1: “treat_abov” is no setting")
    assert second.startswith(f"{misspelt}:34:3: “landmarks” of drainage is no setting")
    assert not resource.exists()


def test_a_sites_codes_are_read_by_its_map(bundle, tmp_path):
    coding = {"system": "https://site.example/codes", "code": "TREAT"}
    for each in bundle["entry"][0]["resource"]["parameter"]:
        if each["code"]["coding"][0]["code"] == "treat_above":
            each["code"]["coding"] = [coding]
    assert back(bundle).status == 2
    target = {"code": "treat_above", "equivalence": "equal"}
    group = {"source": coding["system"], "target": CODES}
    group["element"] = [{"code": "TREAT", "target": [target]}]
    codes = tmp_path / "codes.json"
    concept_map = {"resourceType": "ConceptMap", "status": "active", "group": [group]}
    codes.write_text(json.dumps(concept_map), encoding="utf-8")
    ran = back(bundle, "--concept-map", codes)
    assert ran.status == 0
    assert b"\ntreat_above: 8 mmHg\n" in ran.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((CLEAN,), "Missing option '--to'"),
        ((CLEAN, "--to", "orderlint"), "This is an order; a resource of FHIR is wanted here."),
        ((CLEAN, "--to", "fhir", "--concept-map", CLEAN), "--concept-map is for reading FHIR"),
        ((CLEAN, "--to", "fhir", "--output", CLEAN), "it would be lost"),
        ((EXAMPLES / "note.txt", "--to", "fhir"), "note.txt"),
        (("none.yaml", "--to", "fhir"), "none.yaml: There is no such file."),
    ],
)
def test_wrong_usage(arguments, words):
    ran = run("convert", *arguments)
    assert (ran.status, ran.out) == (2, b"")
    assert words in ran.err


def test_an_order_is_no_map_of_codes(bundle):
    ran = back(bundle, "--concept-map", CLEAN)
    assert (ran.status, ran.out) == (2, b"")
    assert "This is an order; a resource of FHIR is wanted here." in ran.err


def test_a_bundle_is_fhir_already_and_an_empty_one_has_no_order(bundle):
    ran = run("convert", "-", "--to", "fhir", stdin=json.dumps(bundle).encode())
    assert ran.status == 2
    assert "resource of FHIR" in ran.err
    ran = back({**bundle, "entry": []})
    assert ran.status == 2
    assert "holds no order" in ran.err


SETS = sorted(EXAMPLES.glob("set-*.yaml"))


@pytest.mark.parametrize("order_set", SETS, ids=lambda path: path.stem)
def test_a_set_goes_to_a_questionnaire_and_back(order_set, tmp_path):
    form, again = tmp_path / "set.json", tmp_path / "set.yaml"
    assert run("convert", order_set, "--to", "fhir", "--output", form).status == 0
    ran = run("convert", form, "--to", "orderlint", "--output", again)
    assert (ran.status, ran.out, ran.err) == (0, b"", "")
    there = run("convert", again, "--to", "fhir")
    assert there.out == form.read_bytes()


def test_an_explanation_of_a_set_shows_each_question(tmp_path):
    order_set, form = EXAMPLES / "set-irrigation-adult.yaml", tmp_path / "set.json"
    ran = run("convert", order_set, "--to", "fhir", "--explain", "--output", form)
    row = next(
        number
        for number, line in enumerate(order_set.read_text(encoding="utf-8").splitlines(), 1)
        if line.strip().startswith("therapy:")
    )
    assert f"therapy: “irrigation” ({row}:" in ran.text
    assert "Questionnaire.item[" in ran.text
    back_again = run("convert", form, "--to", "orderlint", "--explain")
    assert back_again.status == 0
    assert "therapy: “irrigation” (" in back_again.text


def test_a_questionnaire_that_is_not_understood_is_refused():
    questions = json.loads(run("convert", SETS[0], "--to", "fhir").out)
    for name in ("more", "most"):
        item = {"linkId": name, "type": "string", "text": "Anything else?"}
        questions["item"].append(item)
    ran = back(questions)
    assert (ran.status, ran.out) == (2, b"")
    assert ran.err.count("a setting may stand in it") == 2
