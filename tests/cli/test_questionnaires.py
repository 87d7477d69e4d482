"""A Questionnaire on the command line: reviewed and compared as a set, refused where none is."""

from __future__ import annotations

import json
import re

import pytest
from each_case import of_each
from questionnaire_forms import CODES, choice, form_of, question, written_set
from running import AT, CLEAN, run

SET = CLEAN.parent / "set-irrigation-adult.yaml"
LEVEL = choice("treat_above", "8 mmHg", "10 mmHg")
pytestmark = pytest.mark.usefixtures("worked_out_once")


@pytest.fixture(scope="module")
def form(tmp_path_factory):
    """The Questionnaire of a sound set, in a file."""
    file = tmp_path_factory.mktemp("forms") / "form.json"
    file.write_text(json.dumps(written_set(SET.read_bytes()), indent=1), encoding="utf-8")
    return file


def test_a_questionnaire_is_compared_with_the_set_that_it_was_made_of(form):
    ran = run("compare", *AT, SET, form)
    assert (ran.status, ran.err) == (0, "")
    assert "The later set is: EQUAL" in ran.text


def test_a_sound_set_is_sound_as_a_questionnaire_and_has_a_certificate(form, tmp_path):
    certificate = tmp_path / "certificate.json"
    ran = run("review", *AT, "--certificate", certificate, form)
    assert (ran.status, ran.err) == (0, "")
    assert "Verdict: SOUND" in ran.text
    ran = run("review", "--recheck", certificate, form)
    assert ran.status == 0
    assert re.search(r"(\d+) of \1 rules are proved", ran.text)


def review_of(made, *options):
    return run("review", *AT, *options, "-", stdin=json.dumps(made, indent=1).encode())


def test_a_finding_has_the_element_beside_line_and_column():
    made = form_of(LEVEL, {"linkId": "x", "type": "string", "text": "Rate"})
    ran = review_of(made, "--format", "json")
    assert (ran.status, ran.err) == (1, "")
    (document,) = json.loads(ran.out)["documents"]
    (found,) = [f for f in document["findings"] if f["rule"] == "set-entry-not-understood"]
    assert found["place"] == {
        "file": "<stdin>",
        "line": 28,
        "column": 3,
        "element": "Questionnaire.item[1]",
    }
    assert "item “Rate”" in found["says"]
    assert document["verdict"] == "do-not-start"


@of_each(
    ("made", "says"),
    [
        (form_of(LEVEL, LEVEL), "same linkId"),
        (form_of(LEVEL, implicitRules="x"), "implicitRules"),
        (form_of(question("x", "string")), "no question with the code of a setting"),
        ({"resourceType": "Bundle", "type": "collection"}, "an order set is wanted"),
        ({"resourceType": "Questionnaire"}, "no items"),
    ],
)
def test_what_is_no_set_is_refused(made, says):
    ran = review_of(made)
    assert (ran.status, ran.out) == (2, b"")
    assert ran.err.startswith("<stdin>:")
    assert says in ran.err


@pytest.mark.parametrize("verb", ["verify", "ask", "readback"])
def test_a_questionnaire_is_no_order(verb, form):
    ran = run(verb, form)
    assert ran.status == 2
    assert f"{form}:1:1" in ran.err


SITE = "https://site.example/codes"


@pytest.fixture
def of_a_site(form, tmp_path):
    """The Questionnaire with a site's code in place of the therapy's, and the site's map."""
    made = json.loads(form.read_text(encoding="utf-8"))
    (therapy,) = [item for item in made["item"] if item["linkId"] == "therapy"]
    therapy["code"] = [{"system": SITE, "code": "EVD-1", "display": "Mode"}]
    of_site, names = tmp_path / "site.json", tmp_path / "map.json"
    of_site.write_text(json.dumps(made), encoding="utf-8")
    target = [{"code": "therapy", "equivalence": "equal"}]
    group = {"source": SITE, "target": CODES, "element": [{"code": "EVD-1", "target": target}]}
    concepts = {"resourceType": "ConceptMap", "status": "active", "group": [group]}
    names.write_text(json.dumps(concepts), encoding="utf-8")
    return of_site, names


def test_a_sites_codes_are_read_by_its_map(of_a_site):
    of_site, names = of_a_site
    ran = run("compare", *AT, "--concept-map", names, SET, of_site)
    assert (ran.status, ran.err) == (0, "")
    assert "The later set is: EQUAL" in ran.text
    again = run("convert", "--to", "orderlint", "--concept-map", names, of_site)
    assert "therapy: irrigation" in again.text
    ran = run("convert", "--to", "orderlint", of_site)
    assert ran.status == 2
    assert "no code of a setting" in ran.err


def test_a_review_reads_a_sites_codes(of_a_site):
    of_site, names = of_a_site
    ran = run("review", *AT, "--effort", "1", "--concept-map", names, of_site)
    assert (ran.err, "set-entry-not-understood" in ran.text) == ("", False)
    ran = run("review", *AT, of_site)
    assert (ran.status, "set-entry-not-understood" in ran.text) == (1, True)
