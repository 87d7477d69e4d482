"""What is chosen or pasted and not opened yet: no verdict of the order before stands beside it."""

from __future__ import annotations

import html
import re

import pytest
from asking_page import CLEAN, fields_in, post, send_file, texts_of

OTHER = CLEAN.read_text("utf-8").replace("treat_above: 8", "treat_above: 25")
TWO = "id,therapy\nfirst,drainage\nsecond,monitoring\n"


def verdict_in(shown):
    """The words in the header, and all that stands beside the form."""
    beside = html.unescape(re.sub(r"<[^>]*>", " ", shown.partition('id="result"')[2]))
    return re.search(r'id="verdict">(.*?)</a>', shown)[1], beside.partition('"use strict"')[0]


def is_held(shown, *words):
    verdict, beside = verdict_in(shown)
    assert verdict == "Not checked"
    assert "CLEAR" not in beside
    assert "treat_above" not in beside
    for each in words:
        assert each in beside
    return True


@pytest.mark.parametrize("name", ["o.yaml", None])
def test_check_opens_what_waits_and_never_judges_the_order_before(site, name):
    for path in ("", "open"):
        if name:
            shown = send_file(site, OTHER, name, texts_of(CLEAN), path).text
        else:
            shown = post(site, path, texts_of(CLEAN) | {"file": OTHER}).text
        assert verdict_in(shown)[0].startswith("DO NOT START")
        assert fields_in(shown)["treat_above"] == "25"


@pytest.mark.parametrize("path", ["sheet", "readback", "order.yaml"])
def test_nothing_is_done_with_the_order_before_while_another_waits(site, path):
    for shown, what in (
        (send_file(site, OTHER, "o.yaml", texts_of(CLEAN), path), "o.yaml"),
        (post(site, path, texts_of(CLEAN) | {"file": OTHER}), "What is pasted"),
    ):
        assert (shown.name, shown.goes_to) == ("", "")
        assert f'role="alert">Not done: {what} is not opened.' in shown.text
        assert "Verified by" not in shown.text
        assert 'id="result"' not in shown.text or is_held(shown.text, what)


def test_what_is_refused_and_a_table_to_be_picked_from_leave_no_verdict_of_the_order_before(site):
    held = "its verdict comes with the next check"
    shown = send_file(site, "a,b\n1,2\n", "g.csv", texts_of(CLEAN)).text
    assert is_held(shown, "g.csv is not opened.", held)
    # The next check is asked for by the person who still means that order.
    assert verdict_in(post(site, "", fields_in(shown)).text)[0] == "CLEAR"
    shown = send_file(site, TWO, "g2.csv", texts_of(CLEAN)).text
    assert is_held(shown, "No order of g2.csv is opened yet.", held)
    assert is_held(post(site, "row", fields_in(shown)).text, held)
    picked = post(site, "", fields_in(shown) | {"row": "1"}).text
    assert fields_in(picked)["id"] == "second"
    pasted = post(site, "open", texts_of(CLEAN) | {"file": "x"}).text
    assert is_held(pasted, "taken out of its box")
    assert is_held(send_file(site, "x", "n.txt", {}).text, "n.txt is not opened.")
