"""The read-back on the local page, without a network: begun, answered, compared."""

from __future__ import annotations

import html
import re

from asking_page import CLEAN, HOSTILE, post, texts_of

from orderlint.fields import field_table
from orderlint.page.readbacks import MOST


def test_nothing_and_what_must_not_start_are_not_checked_at_the_bedside_unasked(site):
    for path in ("readback", "sheet"):
        shown = post(site, path, {})
        assert (shown.status, shown.goes_to) == (200, "")
        assert 'role="alert">Nothing is entered yet.' in shown.text
        assert "<button" not in shown.text
    texts = texts_of(CLEAN) | {"treat_above": "25 mmHg", "indication": HOSTILE}
    shown = post(site, "readback", texts).text
    assert "DO NOT START" in re.search(r"<h1>(.*?)</h1>", shown)[1]
    assert not site.readbacks.begun.things
    # What the verdict calls the points below is one press away.
    points = html.unescape(re.search(r'<a href="/key/(at/[^"]*)#result"', shown)[1])
    found = site.answer("GET", points, b"").text
    assert 'href="#treat_above"' in found.partition('id="result"')[2]
    sent = dict(re.findall(r'type="hidden" name="([^"]*)" value="([^"]*)"', shown))
    sent = {path: html.unescape(text) for path, text in sent.items()}
    assert sent == texts
    assert 'name="confirmed" value="yes"' in shown
    assert post(site, "readback", sent | {"confirmed": "yes"}).status == 303
    assert len(site.readbacks.begun.things) == 1


def test_a_tab_that_has_no_order_says_why_and_the_form_is_kept(site):
    sent = {"irrigation.additive": "none", "irrigation.additive.name": "cefuroxime"}
    for path in ("readback", "sheet"):
        shown = post(site, path, sent).text
        assert "no order has both" in shown
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


def test_the_page_says_that_no_other_machine_can_reach_it(site):
    shown = site.answer("GET", "", b"").text, site.answer("GET", begin(site), b"").text
    assert all("no phone and no other machine can reach it" in each for each in shown)


def number_in(shown):
    return re.search(r'name="number" value="(\d+)"', shown)[1]


def answer(site, name, sent):
    """The page on which a browser is sent on after an answer."""
    taken = post(site, name, sent)
    assert (taken.status, taken.text) == (303, "")
    return site.answer("GET", taken.goes_to.removeprefix("/key/"), b"")


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
        shown = answer(site, name, {"answer": text, "number": number_in(shown), "do": "enter"}).text
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
            'id="trouble"'
            in answer(site, name, {"answer": text, "number": "0", "do": "enter"}).text
        )
    answer(site, name, {"answer": "nurse A", "number": "0", "do": "enter"})
    again = answer(site, name, {"answer": "nurse C", "number": "0", "do": "enter"}).text
    assert number_in(again) == "1"
    assert (
        "cannot check them"
        in answer(site, name, {"answer": "nurse A", "number": "1", "do": "enter"}).text
    )
    assert site.answer("GET", name, b"").text != first
    assert number_in(answer(site, name, {"number": "1", "do": "back"}).text) == "0"


def answered(site, name, until=None):
    """The page on which `until` is asked, or the result, all answered as it is ordered."""
    texts = texts_of(CLEAN)
    shown = site.answer("GET", name, b"").text
    while 'name="answer"' in shown and (path := asked_in(shown)) != until:
        text = ANSWERS.get(path) or texts[path]
        shown = answer(site, name, {"answer": text, "number": number_in(shown), "do": "enter"}).text
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
        answer(site, name, sent | {"number": number_in(shown)})
        taken = site.readbacks.begun.get(name.removeprefix("readback/")).entered.first
        assert taken[path] == ("8 mmHg" if kind == "unit" else "right ventricle")
    assert "Settings seen at" in answered(site, name)


def test_a_refused_answer_stays_in_the_box(site):
    name = begin(site)
    shown = answered(site, name, "treat_above")
    sent = {"answer": '8 "mmHg', "unit": "cmH2O", "number": number_in(shown)}
    again = answer(site, name, sent).text
    assert 'name="answer" value="8 &#34;mmHg"' in again
    assert 'id="trouble"' in again
    assert number_in(again) == number_in(shown)
    hidden = answer(site, name, {"answer": "8\u202e", "number": number_in(shown)}).text
    assert 'name="answer" value=""' in hidden
    # A late answer is none to this question.
    assert 'value=""' in answer(site, name, {"answer": "x", "number": "0"}).text


def test_the_result_has_an_address_and_no_answer_is_sent_anew(site):
    name = begin(site)
    shown = answered(site, name)
    assert post(site, name, {"answer": "x"}).goes_to == f"/key/{name}/report"
    for path in (name, f"{name}/report"):
        assert site.answer("GET", path, b"").text == shown
    other = begin(site)
    assert 'name="answer"' in site.answer("GET", f"{other}/report", b"").text
    for path in ("readback/none", "readback/none/report"):
        assert post(site, path, {"answer": "x"}).status == 404


def test_the_result_of_a_read_back_leads_to_the_order_and_is_on_its_clock(site):
    name = begin(site)
    shown = answered(site, name)
    assert "can be printed" in shown
    assert "2026-03-02T15:30:00-06:00" in html.unescape(shown)
    link = re.search(r'<a href="/key/([^"]*)"', shown)[1]
    form = site.answer("GET", link, b"").text
    assert 'name="indication" value="intraventricular haemorrhage"' in form
    assert 'class="message"' not in form
    assert site.answer("GET", "readback/none/order", b"").status == 404


def test_only_so_many_read_backs_are_kept(site):
    names = [begin(site) for _ in range(MOST + 1)]
    assert site.answer("GET", names[0], b"").status == 404
    assert site.answer("GET", names[-1], b"").status == 200
