"""The answers of the local page, without a network: form, result, file, sheet, read-back."""

from __future__ import annotations

import html
import json
import re
from datetime import datetime
from pathlib import Path
from urllib.parse import urlencode

import pytest

import orderlint
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.page.entries import NAME, UNIT, entered, entries_of
from orderlint.page.readbacks import MOST
from orderlint.page.site import Site
from orderlint.reading import read
from orderlint.reading.quantity_text import split_quantity
from orderlint.report.order.as_yaml import order_yaml

EXAMPLES = Path(__file__).parents[2] / "examples"
CLEAN = EXAMPLES / "clean.yaml"
AT = datetime.fromisoformat("2026-03-02T15:30:00-06:00")
ORDERS = sorted(
    path
    for path in EXAMPLES.glob("*.yaml")
    if "document: order\n" in path.read_text("utf-8") and path.stem != "misspelt-keys"
)


@pytest.fixture
def site():
    return Site("/key/", None, lambda: int(AT.timestamp() * 1000))


def texts_of(path):
    return dict(entries_of(read(path.read_bytes(), path.name, "order")))


def post(site, path, texts):
    return site.answer("POST", path, urlencode(texts).encode())


def checked(site, texts):
    return json.loads(post(site, "check", texts).text)


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


def texts_of_text(text):
    return dict(entries_of(read(text.encode(), "order.yaml", "order")))


def test_a_unit_that_is_picked_stands_after_its_number():
    assert entered([("treat_above", "8"), (f"{UNIT}treat_above", "mmHg")]) == {
        "treat_above": "8 mmHg"
    }
    assert entered([("treat_above", "8 mmHg"), (f"{UNIT}treat_above", "mmHg")]) == {
        "treat_above": "8 mmHg"
    }
    both = entered([("treat_above", "8 mmHg"), (f"{UNIT}treat_above", "cmH2O")])
    assert split_quantity(both["treat_above"]).unit == "mmHg cmH2O"  # no unit that is known
    assert entered([(f"{UNIT}treat_above", "mmHg"), ("treat_above", " ")]) == {}
    assert entered([("treat_above", "8"), (f"{UNIT}treat_above", "mL/h")]) == {"treat_above": "8"}


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


HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(1)>{{7*7}}'


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
    assert "has parts as well" in shown["result"]
    assert "has parts as well" in post(site, "order.yaml", sent).text


def test_an_order_is_opened_from_what_is_pasted(site):
    for text in (
        CLEAN.read_text("utf-8"),
        '{"document": "order", "format": 1, "therapy": "drainage"}',
    ):
        assert "Verdict" in post(site, "open", {"file": text}).text
    for text, why in (
        ("", "empty"),
        ("document: rules\nformat: 1", "wanted here"),
        ("a: [", "pasted:"),
    ):
        shown = post(site, "open", {"file": text}).text
        assert 'role="alert"' in shown
        assert why in shown
    unknown = "document: order\nformat: 1\nnonsense: 1\n"
    assert "no field" in post(site, "open", {"file": unknown}).text
    with pytest.raises(Refused):
        entries_of(read(unknown.encode(), "x.yaml", "order"))


ENTERED = {"therapy": "drainage", "indication": "bleeding", "drainage.height": "5 mmHg"}


@pytest.mark.parametrize(
    "text",
    [
        "Irrigate at 60 mL/h, please.",
        "document: draft\nformat: 1\n",
        "document: order\nformat: 1\ntreat_abve: 8 mmHg\n",
        "\n  a: [\n",
        "",
    ],
)
def test_what_is_not_opened_leaves_all_that_was_entered_and_pasted(site, text):
    shown = post(site, "open", ENTERED | {"file": text}).text
    assert "Not opened: " in re.search(r'role="alert">(.*?)</p>', shown)[1]
    assert "<option selected>drainage</option>" in shown
    assert 'name="indication" value="bleeding"' in shown
    assert 'name="drainage.height" value="5"' in shown
    # The first line feed of a text area is none of its text.
    kept = re.search(r'<textarea id="file"[^>]*>\n(.*?)</textarea>', shown, re.DOTALL)[1]
    assert html.unescape(kept) == text


def test_the_file_of_what_was_entered_is_shown_when_another_order_takes_its_place(site):
    texts = texts_of(CLEAN)
    shown = post(site, "open", ENTERED | {"file": CLEAN.read_text("utf-8")}).text
    before = re.search(r"<pre [^>]*before[^>]*>(.*?)</pre>", shown, re.DOTALL)[1]
    assert texts_of_text(html.unescape(before)) == ENTERED
    assert 'name="indication" value="bleeding"' not in shown
    for already in ({}, texts):
        shown = post(site, "open", already | {"file": CLEAN.read_text("utf-8")}).text
        assert "took the place" not in shown


def test_entries_that_make_no_file_are_not_replaced(site):
    sent = {"irrigation.additive": "none", "irrigation.additive.name": "cefuroxime"}
    shown = post(site, "open", sent | {"file": CLEAN.read_text("utf-8")}).text
    assert "Not opened: " in shown
    assert "cefuroxime" in shown


def test_the_file_is_saved_and_the_sheet_can_be_signed(site):
    saved = post(site, "order.yaml", texts_of(CLEAN))
    assert (saved.kind, saved.name) == ("application/yaml", "order.yaml")
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


def test_other_paths_are_not_there(site):
    for method, path in (
        ("GET", "check"),
        ("POST", "x"),
        ("GET", "readback/none"),
        ("POST", "readback/"),
    ):
        assert site.answer(method, path, b"").status == 404


def test_nothing_and_what_must_not_start_are_not_checked_at_the_bedside_unasked(site):
    for path in ("readback", "sheet"):
        shown = post(site, path, {"file": "x"})
        assert (shown.status, shown.goes_to) == (200, "")
        assert 'role="alert">Nothing is entered yet.' in shown.text
        assert "<button" not in shown.text
    texts = texts_of(CLEAN) | {"treat_above": "25 mmHg", "indication": HOSTILE}
    shown = post(site, "readback", texts).text
    assert "DO NOT START" in re.search(r"<h1>(.*?)</h1>", shown)[1]
    assert not site.readbacks.begun
    sent = dict(re.findall(r'type="hidden" name="([^"]*)" value="([^"]*)"', shown))
    sent = {path: html.unescape(text) for path, text in sent.items()}
    assert sent == texts
    assert 'name="confirmed" value="yes"' in shown
    assert post(site, "readback", sent | {"confirmed": "yes"}).status == 303
    assert len(site.readbacks.begun) == 1


def test_a_tab_that_has_no_order_says_why_and_the_form_is_kept(site):
    sent = {"irrigation.additive": "none", "irrigation.additive.name": "cefuroxime"}
    for path in ("readback", "sheet"):
        shown = post(site, path, sent).text
        assert "has parts as well" in shown
        assert "<select" not in shown


ANSWERS = {
    "keyed_by": "nurse A",
    "seen_by": "nurse B",
    "irrigation.additive.name": "none",
}


def begin(site):
    answer = post(site, "readback", texts_of(CLEAN))
    assert answer.status == 303
    return answer.goes_to.removeprefix("/key/")


def number_in(shown):
    return re.search(r'name="number" value="(\d+)"', shown)[1]


def test_a_read_back_is_blind_until_all_is_entered(site):
    name = begin(site)
    texts = texts_of(CLEAN)
    shown = site.answer("GET", name, b"").text
    entered_so_far = []
    while 'name="answer"' in shown:
        words = re.sub(r"<(style|script)>.*?</\1>", "", shown, flags=re.DOTALL)
        # A button for each choice that there is, so that none tells of the order.
        words = re.sub(r'<button name="choice".*', "", words)
        for secret in ("60 mL/h", "22 mmHg", "lactated", "demo-0417", "1000 mL"):
            assert secret not in words
        path = asked_in(shown)
        text = ANSWERS.get(path) or texts[path]
        entered_so_far.append(path)
        shown = post(site, name, {"answer": text, "number": number_in(shown), "do": "enter"}).text
    assert len(entered_so_far) > 15
    assert "As ordered" in shown or "Verdict" in shown


def asked_in(shown):
    """The path of the setting that a page asks for, by its question."""
    from orderlint.readback.dialogue import QUESTIONS, Question  # noqa: PLC0415
    from orderlint.report.readback.prompts import prompt  # noqa: PLC0415

    asked = html.unescape(re.search(r'<label for="answer">(.*?)</label>', shown)[1])
    return next(path for path in QUESTIONS if prompt(Question(path, again=False)) == asked)


def test_an_answer_that_is_not_one_is_told_and_a_late_one_changes_nothing(site):
    name = begin(site)
    first = site.answer("GET", name, b"").text
    for text in ("", "x" * 201, "a\u202eb", "9" * 60):
        assert (
            'id="trouble"' in post(site, name, {"answer": text, "number": "0", "do": "enter"}).text
        )
    post(site, name, {"answer": "nurse A", "number": "0", "do": "enter"})
    again = post(site, name, {"answer": "nurse C", "number": "0", "do": "enter"}).text
    assert number_in(again) == "1"
    assert (
        "cannot check them"
        in post(site, name, {"answer": "nurse A", "number": "1", "do": "enter"}).text
    )
    assert site.answer("GET", name, b"").text != first
    assert number_in(post(site, name, {"number": "1", "do": "back"}).text) == "0"


def answered(site, name, until=None):
    """The page on which `until` is asked, or the result, all answered as it is ordered."""
    texts = texts_of(CLEAN)
    shown = site.answer("GET", name, b"").text
    while 'name="answer"' in shown and (path := asked_in(shown)) != until:
        text = ANSWERS.get(path) or texts[path]
        shown = post(site, name, {"answer": text, "number": number_in(shown), "do": "enter"}).text
    return shown


def pressed(shown, kind):
    return [html.unescape(x) for x in re.findall(f'<button name="{kind}" value="([^"]*)"', shown)]


def test_a_choice_and_a_unit_are_pressed_whatever_is_ordered(site):
    orders = texts_of(CLEAN), texts_of(CLEAN) | {"treat_above": "9 cmH2O", "access": "lumbar"}
    name, other = (
        post(site, "readback", texts | {"confirmed": "yes"}).goes_to.removeprefix("/key/")
        for texts in orders
    )
    for path in ("treat_above", "access"):
        shown = answered(site, name, path)
        kind = "unit" if path == "treat_above" else "choice"
        fields = field_table().fields
        field = fields[path]
        every = [c for c in (field.choices or field.decimals) if c != field.otherwise]
        assert pressed(shown, kind) == every == pressed(answered(site, other, path), kind)
        sent = {"answer": "8", "unit": "mmHg"} if kind == "unit" else {"choice": "right ventricle"}
        post(site, name, sent | {"number": number_in(shown)})
        taken = site.readbacks.begun[name.removeprefix("readback/")].entered.first
        assert taken[path] == ("8 mmHg" if kind == "unit" else "right ventricle")
    assert "Settings seen at" in answered(site, name)


def test_a_refused_answer_stays_in_the_box(site):
    name = begin(site)
    shown = answered(site, name, "treat_above")
    sent = {"answer": '8 "mmHg', "unit": "cmH2O", "number": number_in(shown)}
    again = post(site, name, sent).text
    assert 'name="answer" value="8 &#34;mmHg"' in again
    assert 'id="trouble"' in again
    assert number_in(again) == number_in(shown)
    hidden = post(site, name, {"answer": "8\u202e", "number": number_in(shown)}).text
    assert 'name="answer" value=""' in hidden
    # A late answer is none to this question.
    assert 'value=""' in post(site, name, {"answer": "x", "number": "0"}).text


def test_the_result_of_a_read_back_leads_to_the_order_and_is_on_its_clock(site):
    name = begin(site)
    shown = answered(site, name)
    assert "can be printed" in shown
    assert "2026-03-02T15:30:00-06:00" in html.unescape(shown)
    link = re.search(r'<a href="/key/([^"]*)"', shown)[1]
    form = site.answer("GET", link, b"").text
    assert 'name="indication" value="intraventricular haemorrhage"' in form
    assert "Not opened" not in form
    assert site.answer("GET", "readback/none/order", b"").status == 404


def test_only_so_many_read_backs_are_kept(site):
    names = [begin(site) for _ in range(MOST + 1)]
    assert site.answer("GET", names[0], b"").status == 404
    assert site.answer("GET", names[-1], b"").status == 200


def test_what_is_written_is_read_as_it_was_entered():
    texts = texts_of(CLEAN) | {"instructions": 'say "x"\nthen: #y \\ z'}
    assert texts_of_text(order_yaml(texts)) == texts
