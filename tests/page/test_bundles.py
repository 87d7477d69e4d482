"""A Bundle of FHIR in the form: never judged better than `verify` judges the file itself."""

from __future__ import annotations

import json

import pytest
from asking_page import AT, CLEAN, checked, fields_in, post, texts_of
from bundles import bundle, changed, device_request, parameter
from rule_examples import NAMES, examples

import orderlint
from orderlint.finding import Verdict
from orderlint.page.opening import OWN, open_file
from orderlint.page.origin import FormEntries, verify_entered
from orderlint.rulebook.load import load

XML = '<?xml version="1.0"?>\n<Bundle xmlns="http://hl7.org/fhir"/>'
HAZARDS = [name for name in NAMES if load("all").rules[name].found_by == "fhir"]


def opened(site, whole):
    """The form of a Bundle as it would be sent, and what `verify` says of its file."""
    text = json.dumps(whole, indent=1)
    shown = post(site, "open", {"file": text}).text
    assert "Not opened" not in shown.partition("<script>")[0]
    return fields_in(shown), orderlint.verify(text, name="pasted", at=AT)


def assessed(site, sent):
    return site.form.verified(site.form.entered(sent)).assessment


def test_an_order_in_a_bundle_fills_the_form_and_a_file_is_made_of_it(site):
    sent, itself = opened(site, bundle())
    assert assessed(site, sent).findings == itself.findings == ()
    made = checked(site, sent)
    assert made["verdict"].startswith("CLEAR")
    assert orderlint.verify(made["yaml"], at=AT).verdict == "clear"
    values, texts = site.form.entered(sent).values, texts_of(CLEAN)
    assert {p for p in values if values[p] != texts.get(p)} == {"written"}
    assert len(values) > 55


@pytest.mark.slow
@pytest.mark.parametrize("rule", HAZARDS)
def test_what_is_wrong_with_a_bundle_stays_with_the_form_and_no_file_is_made(rule, site):
    book, at = load("order"), site.form.now()
    for example in examples(rule):
        text = json.dumps(changed(example.written), indent=1)
        order = open_file(text.encode(), "pasted", OWN)
        entered = FormEntries(order.values, frozenset(), order)
        itself = orderlint.verify(text, name="pasted", at=AT)
        found = verify_entered(entered, at, book).assessment
        rules = [each.rule for each in (*found.findings, *found.unchecked)]
        assert (rule in rules) == (example.outcome == "breaks")
        assert rules == [each.rule for each in (*itself.findings, *itself.unchecked)]
        assert found.verdict == itself.verdict
        if example.outcome != "breaks":
            assert entered.why_no_file == ""
            continue
        assert rule in entered.why_no_file or "ot understood" in entered.text()
        # Whatever is typed into the fields, what the Bundle is stays found.
        typed = verify_entered(entered._replace(values=texts_of(CLEAN)), at, book).assessment
        assert rule in {each.rule for each in (*typed.findings, *typed.unchecked)}
        assert typed.verdict != Verdict.CLEAR


def test_a_finding_in_a_bundle_says_at_which_element_until_the_field_is_typed_anew(site):
    whole = bundle()
    parameters = whole["entry"][0]["resource"]["parameter"]
    at = next(n for n, each in enumerate(parameters) if each == parameter("treat_above", "8 mmHg"))
    parameters[at] = parameter("treat_above", "25 mmHg")
    sent, itself = opened(site, whole)
    (found, *_), (same, *_) = assessed(site, sent).findings, itself.findings
    assert found.also == same.also
    assert f"parameter[{at}]" in str([found.place, *(each.place for each in found.also)])
    typed = assessed(site, sent | {"treat_above": "26"}).findings[0]
    assert f"parameter[{at}]" not in str([typed.place, *(each.place for each in typed.also)])


def test_a_setting_that_may_stand_in_what_is_not_understood_is_never_called_missing(site):
    whole = bundle()
    parameters = whole["entry"][0]["resource"]["parameter"]
    whole["entry"][0]["resource"]["parameter"] = [
        each for each in parameters if each["code"]["coding"][0]["code"] != "notify.call"
    ] + [{"code": {"text": "who is to be called"}, "valueCodeableConcept": {"text": "the ward"}}]
    sent, itself = opened(site, whole)
    assert assessed(site, sent).verdict == itself.verdict == Verdict.INCOMPLETE
    shown = post(site, "", sent).text
    assert "the ward" in shown
    assert "Not understood, and in no field" in shown
    for path in ("order.yaml", "readback"):
        assert "No file is made of it" in post(site, path, sent).text
    assert "not checked at the bedside. No file" in post(site, "readback", sent).text


def test_a_bundle_of_two_orders_or_of_none_and_one_in_error_are_not_opened(site):
    two = bundle(
        device_request(), {**device_request(), "id": "2", "groupIdentifier": {"value": "x"}}
    )
    wrong = bundle({**device_request(), "status": "entered-in-error"})
    none = bundle({"resourceType": "Patient", "id": "1"})
    for whole, why in ((two, "2 orders"), (none, "no order"), (wrong, "entered in error")):
        text = json.dumps(whole)
        shown = post(site, "open", {"file": text, "therapy": "drainage"}).text
        assert why in shown.partition("<script>")[0]
        assert fields_in(shown)["file"] == text
        assert fields_in(shown)["therapy"] == "drainage"
    assert "read as JSON" in post(site, "open", {"file": XML}).text
