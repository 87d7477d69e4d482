"""What is opened on the page: an order, a draft, a note, a row of a table, and what is none."""

from __future__ import annotations

import html
import json
import re

import pytest
from asking_page import AT, CLEAN, EXAMPLES, checked, fields_in, post, send_file, texts_of
from bundles import bundle

import orderlint
from orderlint.api.sources import Content
from orderlint.cli.inputs import load_rulebook
from orderlint.finding import Refused
from orderlint.page.entries import entries_of
from orderlint.page.form_answers import MOST_OPENED, SiteForm, Stood
from orderlint.page.opening import SiteNames, open_file
from orderlint.page.site import Site
from orderlint.reading import read
from orderlint.tables.order_table import order_of, read_order_table
from orderlint.tables.table_map import read_table_map
from orderlint.verification import verify_order

ENTERED = {"therapy": "drainage", "indication": "bleeding", "drainage.height": "5 mmHg"}
WIDE = "id,therapy,treat_above,pause.upper,UNIT\na-1,irrigation,25 mmHg,2-Feb,south\n"
NOTE = (EXAMPLES / "note.txt").read_text("utf-8")


def message(shown):
    return html.unescape(re.search(r'role="alert">(.*?)</p>', shown, re.DOTALL)[1])


def opened(site, text, name=None, **entries):
    """The form after a text was opened, as it would be sent again."""
    answer = send_file(site, text, name, entries) if name else None
    shown = (answer or post(site, "open", entries | {"file": text})).text
    assert 'role="alert">Not opened' not in shown
    return fields_in(shown)


@pytest.mark.parametrize(
    "text", [CLEAN.read_text("utf-8"), '{"document": "order", "format": 1, "therapy": "drainage"}']
)
def test_an_order_is_opened_from_what_is_pasted_and_from_its_file(site, text):
    name = "order.json" if text.startswith("{") else "order.yaml"
    for sent in (opened(site, text), opened(site, text, name)):
        of_file = orderlint.verify(text, name=name, at=AT)
        found = found_in(site, sent)
        assert [each[:-3] for each in of_file.findings] == [each[:-3] for each in found]
        assert dict(entries_of(read(text.encode(), name, "order"))) == sent_texts(site, sent)


def test_what_is_wrong_in_an_opened_order_has_the_place_that_it_has_in_its_file(site):
    path = EXAMPLES / "unsafe-notation.yaml"
    sent = opened(site, path.read_text("utf-8"), path.name)
    itself = orderlint.verify(path, name=path.name, at=AT).findings
    assert [each for each in found_in(site, sent) if each.written] == [
        each for each in itself if each.written
    ]


def found_in(site, sent):
    return site.form.verified(site.form.entered(sent)).assessment.findings


def sent_texts(site, sent):
    return site.form.entered(sent).values


NOT_OPENED = {
    "": "empty",
    "   \n": "empty",
    "document: rules\nformat: 1": "wanted here",
    "document: draft\nformat: 1\n": "`source:` is missing",
    "document: order\nformat: 1\ntreat_abve: 8 mmHg\n": "no field",
    "document: order\na: [": "pasted:",
    "Irrigate at sixty or so, please.": "Nothing in this text is understood",
    "id,therapy": "no order",
    "id,therapy\na\n": "more or fewer cells",
    'id,therapy\n"a,b\n': "cannot be read as CSV",
    "id,therapy\na\x00,drainage\n": "U+0000 NULL",
    "therapy\tid\nirrigation\ta\u202e\n": "U+202E",
    "\x00": "U+0000",
    "{": "pasted:1:2",
    "[" * 90: "Nothing in this text",
    '{"a":' * 90: "pasted:",
}


@pytest.mark.parametrize(("text", "why"), NOT_OPENED.items(), ids=map(repr, NOT_OPENED))
def test_what_is_not_opened_leaves_all_that_was_entered_and_pasted(site, text, why):
    sent = ENTERED | {"unit:drainage.height": "", "drainage.height": "5", "id": "a\u200eb"}
    sent["unit:drainage.height"] = "mmHg"
    shown = post(site, "open", sent | {"file": text}).text
    assert message(shown).startswith("Not opened: ")
    assert why in message(shown)
    again = fields_in(shown)
    assert {name: again[name] for name in sent} == sent
    assert again["file"] == text


@pytest.mark.parametrize(
    ("data", "why"),
    [
        ("id,therapy,indication\na,drainage,h\u00e9morragie\n".encode("cp1252"), "a.csv:2:13"),
        ("id,therapy\na,drainage\n".encode("utf-16"), "a.csv:1:1"),
        (b"PK\x03\x04\x14\x00\x06\x00", "Save it as CSV in UTF-8"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "Save it as CSV in UTF-8"),
        (b"id,therapy\n", "no order"),
        (b"a,b\n1,2\n", "No column has the name of a setting"),
        (b"", "empty"),
    ],
)
def test_a_table_that_is_none_is_refused_where_it_is_none(site, data, why):
    shown = send_file(site, data, "a.csv", ENTERED | {"file": "rate 20 mL/h"}).text
    assert why in message(shown)
    again = fields_in(shown)
    assert {name: again[name] for name in ENTERED} == ENTERED | {"drainage.height": "5"}
    assert again["file"] == "rate 20 mL/h"


def test_a_row_of_a_table_has_the_findings_and_places_of_verify(site):
    for text in (WIDE, WIDE.replace(",", ";"), "\ufeff" + WIDE.replace(",", "\t")):
        sent = opened(site, text, "orders.csv")
        table = read_order_table(text.encode(), "orders.csv")
        rulebook = load_rulebook("order", None)
        at = int(AT.timestamp() * 1000)
        itself = verify_order(order_of(table.rows[0], "orders.csv"), at, rulebook)
        found = found_in(site, sent)
        assert [each[:-1] for each in found if each.written] == [
            each[:-1] for each in itself.assessment.findings if each.written
        ]
        mangled = next(each for each in found if each.written == "2-Feb")
        assert str(mangled.place).startswith("orders.csv:2:")
        assert "DO NOT START" in checked(site, sent)["verdict"]
        assert "no setting is mapped to them: UNIT" in post(site, "", sent).text


def test_a_setting_that_is_typed_anew_has_a_place_of_its_own(site):
    sent = opened(site, WIDE, "orders.csv") | {"pause.upper": "2-Mar"}
    found = next(each for each in found_in(site, sent) if each.written == "2-Mar")
    assert found.place.file == "order on the page"


def test_what_was_opened_says_so_once_a_setting_differs(site):
    for text in (CLEAN.read_text("utf-8"), NOTE, WIDE, json.dumps(bundle())):
        sent = opened(site, text)
        row = ", line 2" if text == WIDE else ""
        title = f"Opened from what was pasted{row}"
        assert f">{title}</h2>" in post(site, "", sent).text
        assert checked(site, sent)["opened"] == title
        for path, other in (("indication", "other"), ("treat_above", "")):
            changed = sent | {path: other}
            assert f">{title}, changed since</h2>" in post(site, "", changed).text
            assert checked(site, changed)["opened"] == f"{title}, changed since"
    assert checked(site, ENTERED)["opened"] == ""


def test_a_comment_above_an_order_is_no_head_of_a_table(site):
    text = f"# access, therapy\n{CLEAN.read_text('utf-8')}"
    assert sent_texts(site, opened(site, text)) == texts_of(CLEAN)


def test_columns_are_read_by_the_map_that_the_page_was_started_with():
    entries = read_table_map(Content("map.yaml", MAP.encode()).read("table-map"))
    mapped = Site(SiteForm("/key/", None, lambda: int(AT.timestamp() * 1000), SiteNames(entries)))
    sent = opened(mapped, "ORDER,LIMIT\nx,22\n")
    assert sent_texts(mapped, sent) == {"id": "x", "pause.upper": "22 mmHg"}


MAP = """\
document: table-map
format: 1
columns: {id: ORDER, pause.upper: {column: LIMIT, unit: mmHg}}
"""


def test_what_an_opened_order_took_the_place_of_can_be_had_back_and_forth(site):
    pasted = ENTERED | {"unit:drainage.height": "cmH2O", "file": CLEAN.read_text("utf-8")}
    shown = post(site, "open", pasted).text
    key = re.search(r'name="before" value="([^"]*)"', shown)[1]
    now = fields_in(shown)
    back = post(site, "before", now | {"before": key}).text
    # Also what makes no order as it stands comes back: two units.
    assert fields_in(back)["drainage.height"] == "5 mmHg"
    assert fields_in(back)["unit:drainage.height"] == "cmH2O"
    forth = re.search(r'name="before" value="([^"]*)"', back)[1]
    again = post(site, "before", fields_in(back) | {"before": forth}).text
    assert sent_texts(site, fields_in(again)) == texts_of(CLEAN)
    for already in ({}, texts_of(CLEAN)):
        shown = post(site, "open", already | {"file": CLEAN.read_text("utf-8")}).text
        assert "filled anew" not in shown
    assert "no longer kept" in message(post(site, "before", now | {"before": "x"}).text)


def test_the_form_is_emptied_and_what_stood_there_can_be_had_back(site):
    shown = post(site, "empty", ENTERED).text
    assert sent_texts(site, fields_in(shown)) == {}
    key = re.search(r'name="before" value="([^"]*)"', shown)[1]
    back = post(site, "before", {"before": key}).text
    assert sent_texts(site, fields_in(back)) == ENTERED


def test_nothing_is_said_of_an_order_whose_file_is_no_longer_kept(site):
    sent = opened(site, NOTE)
    for _ in range(MOST_OPENED):
        site.form.kept.keep(Stood({}))
    shown = checked(site, sent)
    assert shown["verdict"] == "Not checked"
    assert "Open it once more" in shown["result"]
    assert shown["yaml"] == ""
    for path in ("order.yaml", "sheet", "readback"):
        assert "no longer kept" in post(site, path, sent).text
    assert "no longer kept" in site.answer("GET", "at/none", b"").text
    # What was entered stands.
    again = fields_in(post(site, "", sent).text)
    assert sent_texts(site, again | {"opened": ""}) == sent_texts(site, sent | {"opened": ""})


@pytest.mark.parametrize("name", ["policy-adult-unit.yaml", "policy-standing-orders.yaml"])
def test_what_is_opened_is_checked_under_the_policy_that_was_given_at_start(name):
    policy = orderlint.load_policy(EXAMPLES / name)
    under = Site(SiteForm("/key/", policy, lambda: int(AT.timestamp() * 1000)))
    for text in ((EXAMPLES / "drainage-only.yaml").read_text("utf-8"), json.dumps(bundle())):
        sent = opened(under, text)
        itself = orderlint.verify(text, at=AT, policy=policy)
        assert checked(under, sent)["verdict"] in itself.to_text()
        found = found_in(under, sent)
        assert [each[:-3] for each in found] == [each[:-3] for each in itself.findings]
    assert policy.title in html.unescape(post(under, "", sent).text)


def test_a_text_of_several_lines_is_not_changed_by_its_field(site):
    text = "document: order\nformat: 1\nindication: |\n  one\n  two\ntreat_above: |-\n  8\n  mmHg\n"
    shown = post(site, "open", {"file": text}).text
    assert re.findall(r'<textarea id="(indication|treat_above)"', shown) == [
        "indication",
        "treat_above",
    ]
    odd = 'document: order\nformat: 1\ntherapy: "irri  gation"\n'
    assert 'selected value="irri  gation"' in post(site, "open", {"file": odd}).text


def test_no_file_chosen_is_no_file(site):
    shown = send_file(site, b"", "", {"file": CLEAN.read_text("utf-8")}).text
    assert sent_texts(site, fields_in(shown)) == texts_of(CLEAN)


def test_the_name_of_a_file_cannot_do_harm(site):
    name = "..\\a/<script>alert(1)\u202e.csv"
    shown = send_file(site, WIDE, name, {}).text
    assert "<script>alert" not in shown
    assert "\u202e" not in shown
    assert json.loads(post(site, "check", fields_in(shown)).text)["verdict"]


def test_a_row_that_no_order_can_be_is_refused_at_its_cell():
    text = b"irrigation.additive,irrigation.additive.name\nnone,cefuroxime\n"
    with pytest.raises(Refused, match="no order has both") as refused:
        open_file(text, "a.csv", SiteNames())
    assert str(refused.value.place) == "a.csv:2:1"
