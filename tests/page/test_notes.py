"""A prescriber's sentences and drafts in the form: confirmed by ticks, line by line."""

from __future__ import annotations

import re

from asking_page import AT, EXAMPLES, checked, fields_in, post

import orderlint

NOTE = (EXAMPLES / "note.txt").read_text("utf-8")


def opened(site, text):
    """The form after a text was opened, as it would be sent again."""
    return fields_in(post(site, "open", {"file": text}).text)


def test_a_note_fills_the_form_and_is_incomplete_until_a_person_has_confirmed_it(site):
    shown = post(site, "open", {"file": NOTE}).text
    sent = fields_in(shown)
    assert site.form.entered(sent).values["irrigation.rate"] == "60 mL/h"
    for words in ("Line 2 says", "that is what is written", "If febrile"):
        assert words in shown
    itself = orderlint.verify(drafted_text(), at=AT)
    verified = site.form.verified(site.form.entered(sent))
    assert verified.assessment.verdict == itself.verdict
    assert [each.rule for each in verified.assessment.unchecked] == [
        each.rule for each in itself.unchecked
    ]
    assert verified.is_draft
    assert checked(site, sent)["yaml"] == ""
    assert "compared each line with the text" in checked(site, sent)["no_file"]
    for path in ("order.yaml", "readback"):
        assert "compared each line" in post(site, path, sent).text


def test_a_line_that_begins_with_a_sign_is_still_a_sentence(site):
    shown = post(site, "open", {"file": "Therapy: irrigation\n\n< 5 mmHg call\n"}).text
    assert "Nothing in this text is understood" in shown


def test_what_a_text_says_twice_is_shown_twice_beside_its_field(site):
    text = "Therapy: irrigation\nTreat above 8 mmHg\nTreat-above level: 8 mmHg\n"
    shown = post(site, "open", {"file": text}).text
    said = re.search(r'id="treat_above-source">(.*?)</p>', shown)[1]
    assert said == "Line 2 says “Treat above 8 mmHg”. Line 3 says “Treat-above level: 8 mmHg”."


def drafted_text():
    from orderlint.report.draft import draft_text  # noqa: PLC0415
    from orderlint.sentences.draft import drafted  # noqa: PLC0415

    return draft_text(drafted(NOTE.encode(), "pasted", "0"))


def test_a_sheet_of_what_makes_no_file_names_no_file(site):
    sent = opened(site, NOTE)
    assert "SHA-256" not in post(site, "sheet", sent).text
    assert "draft of an order" in post(site, "sheet", sent).text
    typed = {path: text for path, text in sent.items() if path != "opened"}
    assert "SHA-256" in post(site, "sheet", typed).text


def ticks(shown, but=""):
    names = re.findall(r'type="checkbox" name="([^"]*)"', shown)
    return dict.fromkeys((name for name in names if name != but), "yes")


def test_only_when_every_tick_is_set_a_file_is_made_and_it_names_what_is_left_out(site):
    shown = post(site, "open", {"file": NOTE}).text
    sent = fields_in(shown)
    every = ticks(shown)
    assert len(every) > 5
    for name in every:
        assert checked(site, sent | ticks(shown, name))["yaml"] == "", name
    made = checked(site, sent | every)
    assert "“If febrile”" in made["yaml"]
    itself = orderlint.verify(made["yaml"], at=AT)
    assert made["verdict"].startswith("DO NOT START")
    assert itself.verdict == "do-not-start"
    assert "draft of an order" not in made["result"]
    again = fields_in(post(site, "", sent | every).text)
    assert {name: again.get(name) for name in every} == every


def test_a_line_that_is_changed_is_the_person_s_own_and_a_tick_is_not_for_it(site):
    note = "Therapy: irrigation\nIrrigate with lactated Ringer's at 60 mL/h\n"
    shown = post(site, "open", {"file": note}).text
    sent = fields_in(shown)
    others = ticks(shown, "confirmed:irrigation.rate")
    assert checked(site, sent | others)["yaml"] == ""
    changed = {"irrigation.rate": "6", "unit:irrigation.rate": "mL/h"}
    made = checked(site, sent | others | changed)["yaml"]
    assert "rate: 6 mL/h" in made
    assert "Not as the text has it, line 2" in made
    back = {"irrigation.rate": "60", "unit:irrigation.rate": "mL/h"}
    assert checked(site, sent | others | back)["yaml"] == ""


def test_a_draft_that_is_confirmed_comes_with_its_ticks(site):
    text = drafted_text()
    sent = opened(site, text.replace("confirmed: no", "confirmed: yes"))
    assert not [name for name in sent if name.startswith("left_out:")]
    assert checked(site, sent)["yaml"] == ""
    left_out = text.replace("confirmed: no", "confirmed: yes").replace(
        "left_out: no", "left_out: yes"
    )
    assert "document: order" in checked(site, opened(site, left_out))["yaml"]


def test_the_order_of_a_read_back_leads_to_the_form_with_all_that_was_there(site):
    shown = post(site, "open", {"file": NOTE}).text
    sent = fields_in(shown) | ticks(shown)
    answer = post(site, "readback", sent | {"confirmed": "yes"})
    assert answer.status == 303
    name = answer.goes_to.removeprefix("/key/")
    form = site.answer("GET", f"{name}/order", b"").text
    assert fields_in(form)["opened"] == sent["opened"]
    assert ticks(form) == ticks(shown)
