"""Tables that are opened on the page: a row is picked, told apart from others, and named."""

from __future__ import annotations

import html
import re

from asking_page import CLEAN, checked, fields_in, post, send_file, texts_of

from orderlint.fields import field_table

ENTERED = {"therapy": "drainage", "indication": "bleeding", "drainage.height": "5 mmHg"}


def message(shown):
    return html.unescape(re.search(r'role="alert">(.*?)</p>', shown, re.DOTALL)[1])


def sent_texts(site, sent):
    return site.form.entered(sent).values


LONG = "order,field,value\n" + "".join(
    f"{name},{path},{text}\n"
    for name in ("first", "second")
    for path, text in {"therapy": "drainage", "drainage.height": f"{len(name)} mmHg"}.items()
)


def test_of_several_orders_a_person_picks_one_and_none_is_taken_before(site):
    shown = post(site, "open", ENTERED | {"file": LONG}).text
    assert re.findall(r'<option value="(\d)">(.*?)</option>', shown) == [
        ("0", "first: drainage; Drain height 5 mmHg"),
        ("1", "second: drainage; Drain height 6 mmHg"),
    ]
    sent = fields_in(shown)
    assert sent_texts(site, sent) == ENTERED
    for row in ("", "2", "-1", "x", "\u0661", "9" * 400):
        again = post(site, "row", sent | {"row": row}).text
        assert "No row was picked" in message(again)
        assert fields_in(again)["table"] == sent["table"]
        assert sent_texts(site, fields_in(again)) == ENTERED
    picked = post(site, "row", sent | {"row": "1"}).text
    assert sent_texts(site, fields_in(picked)) == {
        "therapy": "drainage",
        "drainage.height": "6 mmHg",
    }
    assert "no longer kept" in message(post(site, "row", sent | {"table": "none"}).text)


def test_rows_that_are_alike_are_told_apart_by_what_is_written_in_them(site):
    text = "\n".join(
        (
            "therapy,access,pause.upper,treat_above,drainage.height",
            "irrigation,lumbar,20 mmHg,20 mmHg,5 mmHg",
            "irrigation,lumbar,22 mmHg,2-Feb,",
        )
    )
    shown = send_file(site, text, "g2.csv", {}).text
    upper, treat, height, access = (
        field_table().display_name(path)
        for path in ("pause.upper", "treat_above", "drainage.height", "access")
    )
    assert re.findall(r'<option value="\d">(.*?)</option>', shown) == [
        f"line 2: irrigation; {upper} 20 mmHg; {treat} 20 mmHg; {height} 5 mmHg",
        f"line 3: irrigation; {upper} 22 mmHg; {treat} 2-Feb; {access} lumbar",
    ]
    picked = post(site, "row", fields_in(shown) | {"row": "1"}).text
    assert ">Opened from g2.csv, line 3</h2>" in picked


def test_a_check_without_script_keeps_the_table_and_the_way_back(site):
    sent = fields_in(post(site, "open", ENTERED | {"file": LONG}).text)
    again = fields_in(post(site, "", sent).text)
    assert again["table"] == sent["table"]
    picked = fields_in(post(site, "row", again | {"row": "0"}).text)
    assert "table" not in picked
    still = fields_in(post(site, "", picked).text)
    assert still["replaced"] == picked["replaced"] != ""
    back = post(site, "before", still | {"before": still["replaced"]}).text
    assert sent_texts(site, fields_in(back)) == ENTERED


def test_columns_that_were_not_read_are_named_at_the_verdict_while_something_is_missing(site):
    text = "id,therapy,pause.upper,treat above,UNIT\nx,irrigation,20 mmHg,25 mmHg,south\n"
    sent = fields_in(send_file(site, text, "g.csv", {}).text)
    treat = field_table().display_name("treat_above")
    said = f"Not read of g.csv: the columns “treat above” (perhaps {treat}), “UNIT”."
    assert said in html.unescape(checked(site, sent)["result"])
    assert "said to be missing" not in checked(site, texts_of(CLEAN))["result"]
    whole = sent | texts_of(CLEAN)
    assert not re.search("missing-|Not read of", checked(site, whole)["result"])


def test_a_header_that_is_not_understood_is_answered_with_one_that_is(site):
    for name, text in (("a.csv", "a,b\n1,2\n"), ("a.txt", "Treat above;Rate\nx;y\n")):
        said = message(send_file(site, text, name, {}).text)
        header = re.search(r"[a-z_.]+(?:,[a-z_.]+){3,}[a-z]", said)[0]
        assert {*header.split(",")} <= field_table().fields.keys()
        row = f"{header}\n{','.join('x' for _ in header.split(','))}\n"
        assert "Opened from" in send_file(site, row, "b.csv", {}).text
