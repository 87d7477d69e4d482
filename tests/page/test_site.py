"""The answers of the local page, without a network: form, result, file, sheet."""

from __future__ import annotations

import html
import json
import re

import pytest
from asking_page import AT, CLEAN, EXAMPLES, HOSTILE, checked, post, texts_of, texts_of_text

import orderlint
from orderlint.fields import field_table
from orderlint.page.entries import NAME, UNIT, entered
from orderlint.reading.quantity_text import split_quantity
from orderlint.report.order.as_yaml import order_yaml

ORDERS = sorted(
    path
    for path in EXAMPLES.glob("*.yaml")
    if "document: order\n" in path.read_text("utf-8") and path.stem != "misspelt-keys"
)


@pytest.mark.parametrize("path", ORDERS, ids=lambda path: path.stem)
def test_the_result_is_what_verify_says_of_the_file_that_is_made(site, path):
    texts = texts_of(path)
    shown = checked(site, texts)
    result = orderlint.verify(shown["yaml"], name=NAME, at=AT)
    assert shown["verdict"].split(",")[0].split(";")[0] in result.to_text()
    words = " ".join(html.unescape(re.sub(r"<[^>]*>", "", shown["result"])).split())
    for finding in result.findings[:1]:
        assert finding.says in words or finding.rule.startswith("missing-")
    # The form changes no text: the order itself has the same findings.
    itself = orderlint.verify(path, at=AT)
    assert [f.rule for f in result.findings] == [f.rule for f in itself.findings]
    assert texts_of_text(shown["yaml"]) == texts


def test_a_unit_that_is_picked_stands_after_its_number():
    assert entered({"treat_above": "8", f"{UNIT}treat_above": "mmHg"}) == {"treat_above": "8 mmHg"}
    assert entered({"treat_above": "8 mmHg", f"{UNIT}treat_above": "mmHg"}) == {
        "treat_above": "8 mmHg"
    }
    both = entered({"treat_above": "8 mmHg", f"{UNIT}treat_above": "cmH2O"})
    assert split_quantity(both["treat_above"]).unit == "mmHg cmH2O"  # no unit that is known
    assert entered({f"{UNIT}treat_above": "mmHg", "treat_above": " "}) == {}
    assert entered({"treat_above": "8", f"{UNIT}treat_above": "mL/h"}) == {"treat_above": "8"}


def test_the_form_shows_what_was_sent_and_has_no_value_of_its_own(site):
    empty = site.answer("GET", "", b"").text
    assert "selected" not in empty.partition("<main>")[2].partition("<script>")[0]
    assert not re.findall(r'<input id="[^"]*" name="[^"]*" value="[^"]', empty)
    assert "Not checked" in empty
    shown = post(site, "", texts_of(CLEAN)).text
    again = dict(re.findall(r'<input id="[^"]*" name="([^"]*)" value="([^"]+)"', shown))
    for path, text in texts_of(CLEAN).items():
        field = field_table().fields[path]
        if field.kind == "quantity":
            number, unit = text.split(" ", 1)
            assert again[path] == number
            assert f"<option selected>{unit}</option>" in shown
        elif path in again:
            assert html.unescape(again[path]) == text


def test_the_page_says_how_words_are_chosen_and_each_list_has_its_field(site):
    shown = site.answer("GET", "", b"").text
    assert "Enter takes them, Escape leaves them" in shown.partition("<main>")[0]
    asked = re.findall(r'data-phrases="([^"]*)"', shown)
    assert asked == re.findall(r'<datalist id="([^"]*)"', shown)
    assert "instructions-phrases" in asked


def test_a_field_of_a_special_form_says_which_and_that_form_is_read(site):
    shown = site.answer("GET", "", b"").text
    said = dict(re.findall(r'<p class="small" id="([^"]*)-form">(.*?)</p>', shown))
    special = {"instant", "zone", "label", "count"}
    fields = {path: field for path, field in field_table().fields.items() if path in said}
    assert {field.kind for field in fields.values()} == special
    for path, field in field_table().fields.items():
        assert (path in said) == (field.kind in special and path not in {"document", "format"})
    for path, text in said.items():
        assert f'aria-describedby="{path}-form"' in shown
        assert ("six hours behind UTC" in text) == (fields[path].kind == "instant")
        # What is shown as an example is taken as it stands.
        example = re.search(r"such as (.*?)\.(?: |$)", text)[1]
        assert faults_at(path, example) == []
    assert faults_at("written", "2 March") == ["kind-not-expected"]


def faults_at(path, text):
    """The rules of what is found at a field that holds this text alone, beside its absence."""
    found = orderlint.verify(order_yaml({path: text}), at=AT).findings
    return [each.rule for each in found if each.path == path]


def test_a_unit_that_is_typed_and_another_that_is_picked_are_told_at_the_field(site):
    sent = {"treat_above": "8 mmHg", f"{UNIT}treat_above": "cmH2O", "id": "x"}
    told = checked(site, sent)["troubles"]
    assert list(told) == ["treat_above"]
    assert "“mmHg” is typed" in told["treat_above"]
    assert "“cmH2O” is picked" in told["treat_above"]
    shown = post(site, "", sent).text
    assert f'id="treat_above-trouble">{told["treat_above"]}</p>' in shown
    # What was typed and what was picked stand as they did.
    assert 'name="treat_above" value="8 mmHg"' in shown
    assert "<option selected>cmH2O</option>" in shown
    for text in ("8", "8 cmH2O", "8cmH2O", "eight", ""):
        assert checked(site, sent | {"treat_above": text})["troubles"] == {}
    assert checked(site, {"treat_above": "8 mmHg"})["troubles"] == {}


def test_an_order_that_is_begun_is_told_calmly_with_the_verdict_of_verify(site):
    for sent in ({"id": "demo"}, {"therapy": "drainage", "indication": "bleeding"}):
        shown = checked(site, sent)
        found = orderlint.verify(shown["yaml"], name=NAME, at=AT).findings
        missing = [each for each in found if each.rule.startswith("missing-")]
        assert f'<p class="begun">{len(missing)} settings are missing yet.' in shown["result"]
        assert "DO NOT START" in shown["verdict"]
        assert "DO NOT START" in re.search(r"<h1>(.*?)</h1>", shown["result"])[1]
    # A level, or anything that is wrong, is told as ever.
    for sent in ({"treat_above": "8 mmHg"}, {"written": "2 March"}, texts_of(CLEAN)):
        assert 'class="begun"' not in checked(site, sent)["result"]


def test_the_heaviest_findings_lead_to_their_fields(site):
    texts = texts_of(CLEAN) | {"treat_above": "25 mmHg", "bone_flap": "removed"}
    shown = checked(site, texts)["result"]
    links = re.findall(r'<a href="#([^"]*)">(.*?)</a>', shown)
    assert links[:2] == [
        ("treat_above", "Treat-above level"),
        ("pause.upper", "Upper pause limit"),
    ]
    assert {path for path, _ in links} <= field_table().fields.keys()
    assert 'href="#' not in checked(site, texts_of(CLEAN))["result"]
    # An order that is begun lacks much; a few of the fields are enough.
    assert len(re.findall('href="#', checked(site, {"therapy": "irrigation"})["result"])) == 6


def test_what_opens_a_tab_leaves_the_form_and_the_page_says_what_is_lost(site):
    shown = site.answer("GET", "", b"").text
    for path in ("sheet", "readback"):
        assert f'formaction="/key/{path}" formtarget="_blank"' in shown
    assert "reloads or leaves the page" in shown.partition("<main>")[0]


def test_what_the_therapy_needs_is_open(site):
    def is_open(texts):
        return set(re.findall(r'<details data-key="(\w+)" open>', post(site, "", texts).text))

    assert is_open({}) == set()
    assert {"pause", "irrigation", "drainage"} <= is_open({"therapy": "irrigation"})
    assert "irrigation" not in is_open({"therapy": "drainage"})
    assert "drainage" not in is_open({"therapy": "monitoring"})
    assert "titration" in is_open({"therapy": "monitoring", "titration.goal": "x"})


def test_markup_in_a_text_stays_text(site):
    for path in ("id", "indication", "instructions", "treat_above", "therapy"):
        shown = post(site, "", {path: HOSTILE}).text
        assert "<script>alert" not in shown
        assert "<img" not in shown
        assert "{{7*7}}" in html.unescape(shown)
        assert "<img" not in checked(site, {path: HOSTILE})["result"]


@pytest.mark.parametrize(
    "text", ["a\u202eb", "a\x00b", "\u2066", "x\ud800".encode("utf-8", "surrogatepass")]
)
def test_what_does_not_show_is_not_checked(site, text):
    assert checked(site, {"indication": text})["verdict"] == "Not checked"


def test_a_body_that_is_no_form_is_not_checked(site):
    for body in (b"\xff\xfe", b"%ff%fe=1", b"&" * 900, b"a=b&" * 900, b""):
        assert json.loads(site.answer("POST", "check", body).text)["verdict"] == "Not checked"


def test_no_additive_and_a_part_of_one_are_told(site):
    sent = {"irrigation.additive": "none", "irrigation.additive.name": "cefuroxime"}
    shown = checked(site, sent)
    assert shown["verdict"] == "Not checked"
    names = [field_table().fields[path].name for path in sent]
    for name, text in zip(names, sent.values(), strict=True):
        assert f"{name} (“{text}”)" in shown["result"]
    links = re.findall(r'<a href="#([^"]*)">(.*?)</a>', shown["result"])
    assert links == [*zip(sent, names, strict=True)]
    assert "no order has both" in post(site, "order.yaml", sent).text


def test_the_file_is_saved_and_the_sheet_can_be_signed(site):
    nothing = post(site, "order.yaml", {})
    assert (nothing.name, "Nothing is entered yet." in nothing.text) == ("", True)
    saved = post(site, "order.yaml", texts_of(CLEAN))
    assert (saved.kind, saved.name) == ("application/yaml", "demo-0417-revision-1.yaml")
    assert orderlint.verify(saved.text, at=AT).verdict == "clear"
    sheet = post(site, "sheet", texts_of(CLEAN)).text
    assert "Verified by" in sheet
    assert "neurocritical care attending" in sheet
    patient = sheet.partition("<article>")[2].partition('class="verdict')[0]
    assert "Patient, written by hand" in patient
    assert len(re.findall(r"identifier, against the wristband: _{20,}", patient)) == 2
    # Beside them it is the report of that file, whole.
    report = orderlint.verify(saved.text, name=NAME, at=AT).to_html()
    assert report.partition("<article>\n")[2] == sheet.partition("</section>\n")[2]


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ({"id": "a-1"}, "a-1.yaml"),
        ({"id": "a-1", "revision": "3"}, "a-1-revision-3.yaml"),
        ({"revision": "3"}, "order.yaml"),
        ({"id": "a-1", "revision": "3/.."}, "order.yaml"),
        *(({"id": text}, "order.yaml") for text in ('"', "-a", "../a", "a.b", "a\r\nb", "\u0661")),
        ({"id": "a" * 81}, "order.yaml"),
        ({}, "order.yaml"),
    ],
)
def test_the_file_is_called_by_id_and_revision_if_a_name_can_be_made_of_them(site, given, name):
    assert post(site, "order.yaml", {"therapy": "drainage"} | given).name == name


def test_other_paths_are_not_there(site):
    for method, path in (
        ("GET", "check"),
        ("POST", "x"),
        ("GET", "readback/none"),
        ("POST", "readback/"),
    ):
        assert site.answer(method, path, b"").status == 404


def test_what_is_written_is_read_as_it_was_entered():
    texts = texts_of(CLEAN) | {"instructions": 'say "x"\nthen: #y \\ z'}
    assert texts_of_text(order_yaml(texts)) == texts
