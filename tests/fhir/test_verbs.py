"""Each verb of the command line reads a Bundle, by our codes and by those of a site."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bundles import PAIRS, bundle, changed, concept_map, with_codes_of_a_site
from running import run

AT = ("--at", "2026-03-02T14:00:00-06:00")
SEEN = Path(__file__).parents[2] / "examples/seen-as-ordered.yaml"
VERBS = {
    "verify": lambda file: ("verify", file),
    "ask": lambda file: ("ask", file),
    "plan": lambda file: ("plan", "--from", AT[1], file),
    "compare": lambda file: ("compare", file, file.with_name("same.json")),
    "readback": lambda file: ("readback", file, SEEN),
}


def written(path, whole):
    path.write_text(json.dumps(whole, indent=1), encoding="utf-8")
    return path


@pytest.fixture(params=VERBS)
def verb(request, tmp_path):
    def called(whole, *options):
        file = written(tmp_path / "order.json", whole)
        written(tmp_path / "same.json", whole)
        return run(*VERBS[request.param](file), *AT, *options)

    return called


def test_a_verb_reads_a_bundle(verb):
    ran = verb(bundle())
    assert (ran.status in {0, 1}, ran.err) == (True, "")
    assert b"Verdict:" in ran.out
    assert b"DO NOT START" not in ran.out


def test_a_verb_shows_what_only_the_bundle_shows(verb):
    whole = changed({"DeviceRequest.intent": "plan", "DeviceRequest.extension": "[{}]"})
    ran = verb(whole)
    assert ran.status == 1
    assert b"DO NOT START" in ran.out
    assert b"elements of the resource" in ran.out


def test_a_verb_takes_the_codes_of_a_site(verb, tmp_path):
    of_site = written(tmp_path / "map.json", concept_map(PAIRS))
    ran = verb(with_codes_of_a_site(), "--concept-map", of_site)
    assert (ran.status in {0, 1}, ran.err) == (True, "")
    assert verb(with_codes_of_a_site()).status == 2


def test_a_verb_refuses_a_map_that_is_none(verb, tmp_path):
    ran = verb(bundle(), "--concept-map", written(tmp_path / "map.json", bundle()))
    assert (ran.status, ran.out) == (2, b"")
    assert "map.json:1:1: This is no ConceptMap." in ran.err


def test_a_verb_refuses_what_is_no_order(verb):
    ran = verb({**bundle(), "type": "history"})
    assert (ran.status, ran.out) == (2, b"")
    assert "order.json:3:10: A Bundle is read where its type is one of" in ran.err


def test_a_bundle_comes_by_standard_input():
    ran = run("verify", "-", *AT, stdin=json.dumps(bundle()).encode())
    assert (ran.status, ran.err) == (0, "")
    assert b"Verdict: CLEAR" in ran.out


def test_a_bundle_in_xml_is_refused_by_name(tmp_path):
    file = tmp_path / "order.xml"
    file.write_text('<Bundle xmlns="http://hl7.org/fhir"/>\n', encoding="utf-8")
    ran = run("verify", file)
    assert (ran.status, ran.out) == (2, b"")
    assert "order.xml:1:1: This is XML" in ran.err


FORMS = ["text", "json", "html", "sarif", "junit", "line", "markdown"]


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_a_report_has_the_element(form, tmp_path):
    whole = changed({"DeviceRequest.intent": "plan"})
    ran = run("verify", written(tmp_path / "order.json", whole), *AT, "--format", form)
    assert (ran.status, ran.err) == (1, "")
    assert b"Bundle.entry[0].resource.intent" in ran.out
