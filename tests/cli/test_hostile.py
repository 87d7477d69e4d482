"""An order whose every text is made to become markup, script or style, in each verb and format."""

from __future__ import annotations

import json
from xml.etree import ElementTree

import icalendar
import pytest
from reading.hostile import MARKUP, TEXTS, hostile_order
from report.pages import taken_apart
from report.said import HIDDEN
from running import AT, run

ORDER = hostile_order()
FROM = ("--from", "2026-03-02T15:00:00-06:00")
VERBS = {"verify": (), "ask": (), "plan": FROM, "readback": ("--set", "pause.upper=22 mmHg")}


@pytest.mark.parametrize("verb", VERBS)
def test_a_page_holds_nothing_that_acts_and_shows_markup_as_text(verb):
    ran = run(verb, "--format", "html", *AT, *VERBS[verb], "-", stdin=ORDER)
    assert ran.status == 1
    text = ran.out.decode()
    assert not HIDDEN.search(text)
    page = taken_apart(text)
    assert "<script>window.attacked=1;alert(1)</script>" in page.text


@pytest.mark.parametrize("form", ["text", "json", "sarif", "junit", "line"])
def test_no_line_of_another_format_is_garbled(form):
    ran = run("verify", "--format", form, *AT, "-", stdin=ORDER)
    assert ran.status == 1
    text = ran.out.decode()
    assert not HIDDEN.search(text)
    assert "window.attacked" in text
    if form in {"json", "sarif"}:
        json.loads(text)
    if form == "junit":
        ElementTree.fromstring(text)


def test_a_calendar_reads_back_whole():
    ran = run("plan", "--format", "ics", *AT, *FROM, "-", stdin=ORDER)
    calendar = icalendar.Calendar.from_ical(ran.out)
    kinds = {type(part).__name__ for part in calendar.walk()}
    assert kinds <= {"Calendar", "Event", "Timezone", "TimezoneStandard", "TimezoneDaylight"}
    assert not HIDDEN.search(ran.out.decode().replace("\r\n", "\n"))


@pytest.mark.parametrize("path", TEXTS)
@pytest.mark.parametrize("hidden", ["\u202e", "\u2066", "\x1b[31m", "\x9b2J", "\x00", "\u200b"])
def test_what_hides_or_turns_is_refused_and_the_page_shows_it_as_its_number(path, hidden):
    order = {**json.loads(ORDER), path: f"a {hidden} b"}
    ran = run("verify", "--format", "html", *AT, "-", stdin=json.dumps(order).encode())
    assert ran.status == 2
    assert not HIDDEN.search(ran.out.decode() + ran.err)
    page = taken_apart(ran.out.decode())
    assert f"U+{ord(hidden[0]):04X}" in page.text
    assert page.text.count("NOT CHECKED.") == 1


def test_every_kind_of_attack_is_in_the_order():
    assert all(json.dumps(markup)[1:-1].encode() in ORDER for markup in MARKUP)
