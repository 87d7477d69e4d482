"""The page of an audit answers what is asked first, and nothing in a table becomes markup."""

from __future__ import annotations

import re
from itertools import chain

import pytest
from reading.hostile import MARKUP
from report.audit.made import (
    ABOVE,
    JUDGED,
    MARGIN,
    RATE,
    RULES,
    as_page,
    group,
    hostile,
    result,
    wards,
)
from report.pages import squeezed, taken_apart
from report.said import HIDDEN, NASTY

from orderlint.audit.model import (
    AuditResult,
    Refusals,
    RuleCounts,
    SourceFile,
)
from orderlint.finding import Level, Verdict
from orderlint.report.audit.blocks import blocks, brief_blocks
from orderlint.report.audit.words import WrittenRows
from orderlint.report.blocks import CountTable
from orderlint.report.text import render_blocks
from orderlint.tables.table_map import MappedColumn

EMPTY = AuditResult(
    *("0", (SourceFile("none.csv", "0" * 64, 0),), (), (), "built-in policy", "built-in", "0" * 64),
    *("written", 0, Refusals(), 0, {}, {}),
)


def page_of(found=None):
    return taken_apart(as_page(found or result()))


def text_of(found=None, *, detail=True, width=80):
    made = blocks if detail else brief_blocks
    return render_blocks(made(found or result(), RULES), width=width)


def tables(block):
    """Every table of counts in a block, however deep."""
    if isinstance(block, CountTable):
        return [block]
    inside = (getattr(block, name, ()) for name in ("body", "blocks"))
    return [*chain.from_iterable(map(tables, chain.from_iterable(inside)))]


def all_tables(found):
    return [table for block in blocks(found, RULES) for table in tables(block)]


def test_a_page_says_what_somebody_asks_first():
    text = page_of().text
    first = text[: text.index("The rules that stop most")]
    assert "1,530 of 11,986 orders (12.8 %)" in first
    assert (
        f"The rule that stops most {ABOVE}: 620 of 11,986 orders (5.2 %), 310 by this rule" in first
    )
    assert "The drain hangs at [drain height], above the treat-above level." in first
    assert f"{ABOVE}: by ward most in “3 West”, 540 of 4,797 orders (11.3 %)" in first
    assert "elsewhere 80 of 7,189 orders (1.1 %)" in first
    assert f"{ABOVE}: since when from 2025-09 on, in 14.6 % of orders; before, in 0.5 %." in first


def test_the_page_begins_with_since_when_in_what_share_and_where():
    said = f"Since 2025-09, {ABOVE} stops 14.6 % of orders (before, 0.5 %); 540 of its 620 are in "
    assert f"In short {said}ward “3 West”. Orders stopped" in page_of().text


def test_what_the_counts_do_not_say_stands_beside_them():
    for text in (page_of().text, text_of(), text_of(detail=False)):
        said = " ".join(text.split())
        between = said[said.index("would have been stopped.") : said.index("Caution: ")]
        assert len(between) < 250


def test_rules_with_nothing_broken_nor_unchecked_are_folded():
    page = as_page(result())
    part = page[page.index("What each rule comes to") :]
    open_part, folded = part.split("<details", 1)
    assert ABOVE in open_part
    assert "trailing-zero" in open_part
    assert "naked-decimal" not in open_part
    assert re.search(r"\d+ rules kept or not asked in every order", folded)


def test_the_scale_of_bars_is_said_and_the_same_for_all_rows_of_a_table():
    assert "A bar of full width is 620 orders." in page_of().text
    page = as_page(result())
    part = page[page.index("<h2>Orders stopped, by ward") :]
    full = float(re.search(r"A bar of full width is (\S+) % of the orders in its row", part)[1])
    rows = re.findall(r"<tr role=.row.>(.*?)</tr>", part[: part.index("</section>")], re.DOTALL)
    drawn = [row for row in rows if "<svg" in row]
    assert len(drawn) >= 4
    for row in drawn:
        share = float(re.search(r">(\d+\.\d) %<", row)[1])
        width = float(re.findall(r"<rect[^>]*width=.([\d.]+)", row)[1])
        assert abs(width / 300 * full - share) < 0.1


def test_a_group_without_a_finding_is_told_from_one_that_is_hidden():
    groups = {"ward": {**wards(), "attic": group(90, 9, {})}}
    part = text_of(result(groups=groups)).split("\ndrain-above-treat-above (")[1]
    assert re.search(r"“attic” +90 +0 +0\.0 %", part)
    assert re.search(r"none written +1,192 +under 5", part)


def test_words_that_only_statisticians_know_are_explained():
    text = " ".join(text_of().split())
    assert "less than once in 1,000 times (a likelihood-ratio test" in text
    assert "INCOMPLETE: nothing was found to ask about, but part of the order could not be" in text
    assert not re.search(r"\brarer\b|\bclearly in no month\b|\bfound together\b", text)
    for table in all_tables(result()):
        assert not {"alone", "found"} & {*table.heads}


def test_the_first_screen_of_a_text_says_so_too():
    text = " ".join(text_of(detail=False).split())
    assert f"{ABOVE} (DO NOT START – CALL): 620 of 11,986 orders (5.2 %), 310 by this" in text
    assert "By ward: most in “3 West”, 540 of 4,797" in text
    assert "Since when: from 2025-09 on, in 14.6 % of orders; before, in 0.5 %." in text
    assert "14 are refused" in text
    assert len(text_of(detail=False).splitlines()) <= 45


@pytest.mark.parametrize("found", [result(), result(min_cell=1), EMPTY, result(against=None)])
def test_a_page_says_all_that_the_text_says(found):
    said = squeezed(page_of(found).text)
    for line in text_of(found, width=10_000).splitlines():
        cells = re.split(r" {2,}", line.strip())
        for cell in cells:
            assert squeezed(cell) in said, line


def test_every_part_is_said_even_where_there_is_nothing_to_say():
    text = text_of(EMPTY)
    for part in (
        "0 rows, all of them judged",
        "The rules that stop most\n  None.",
        "No month can be told.",
        "None so often that it is shown.",
        "Every rule could be checked on each order.",
        "None: each row is an order.",
    ):
        assert part in text
    assert "None stops an order." in text_of(EMPTY, detail=False)


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_longer_than_the_screen(width):
    for line in text_of(width=width).splitlines():
        assert len(line) <= width or " " not in line.strip(), line


def test_rules_are_ranked_by_the_orders_that_they_stop():
    text = text_of()
    ranked = (
        "drain-above-treat-above (",
        "drain-margin-small (",
        "trailing-zero (",
        "alarms-off (",
    )
    at = [text.index(rule) for rule in ranked]
    assert at == sorted(at)
    assert text.index("stop no order") < text.index("bag-not-stocked (NOTE)")


def test_a_verdict_that_the_stopped_orders_give_away_is_hidden():
    verdicts = dict(zip(Verdict, (3, 1527, 7000, 400, 3056), strict=True))
    rules = {
        "unit-missing": RuleCounts(Level.DO_NOT_START, "", 3, JUDGED - 3, 0, 0, 3, 3),
        **{
            rule: RuleCounts(Level.CLARIFY, "", count, JUDGED - count, 0, 0, count, count)
            for rule, count in {"trailing-zero": 1000, MARGIN: 527}.items()
        },
    }
    text = text_of(result(verdicts=verdicts, rules=rules, pairs={}, samples={}, against=None))
    assert re.search(r"DO NOT START – CALL +under 5\n +CLARIFY +not shown\n", text)
    assert re.search(r"CLARIFY +630 +5\.3 %", text_of())


def test_what_no_column_is_read_as_is_told_apart_from_the_orders():
    found = result()
    text = text_of(found)
    assert "No column is read as: irrigation rate." in " ".join(text.split())
    assert f"{RATE} (" not in text
    mapped = (*found.mapping, MappedColumn("irrigation.rate", "RATE"))
    text = text_of(result(mapping=mapped))
    assert "What the table leaves out" not in text
    assert f"{RATE} (DO NOT START – CALL)" in text


def test_no_small_count_stands_in_a_table_of_orders():
    """But for the rows that are refused, and the numbers of rules."""
    for table in all_tables(result()):
        if table.heads == ("reason", "rows"):
            continue
        for row in table.rows:
            for head, cell in zip(table.heads[1:], row.cells, strict=True):
                assert head == "rules" or not re.fullmatch("[1-4]", cell), (table.heads, row)


def test_with_one_as_the_smallest_count_all_are_shown():
    text = text_of(result(min_cell=1), width=10_000)
    assert "under 5" not in text
    assert "not shown." not in text.replace("share is not shown.", "")
    assert re.search(r"alarms-off \(DO NOT START – CALL\) +3 ", text)


def test_what_is_hidden_is_in_no_share_and_in_no_picture():
    page = as_page(result())
    months = re.findall(r"2025-0[1248]: ([^.]+)\.", page.split("rule1-words")[2])
    assert months[:4] == ["hidden"] * 4
    for table in all_tables(result()):
        for row in table.rows:
            if "share" in table.heads and any(c.startswith(("under", "not ")) for c in row.cells):
                assert row.cells[table.heads.index("share") - 1] == ""


def test_a_rare_text_is_counted_and_not_shown():
    text = text_of()
    assert "as before" not in text
    assert "Further texts are not shown: each stands in too few orders." in text
    assert "The texts of the upper pause limit are not shown: each stands in too" in text
    assert "as before" in text_of(result(min_cell=1))


def test_the_sample_of_a_rule_that_is_hidden_is_too():
    text = text_of()
    sample = text[text.index("\nSample\n") : text.index("\nRefused rows\n")]
    assert "alarms-off" not in sample
    assert "orders-2025.csv, row 17, one of 2 alike: order identifier demo-17" in sample


def test_it_calls_no_alarm_true_or_false():
    said = f"{page_of().text} {text_of()}".lower()
    assert not re.search(r"\b(true|false|alert|positives?)\b", said)
    assert set(re.findall(r"\w*alarm\w*", said)) <= {"alarms", "alarm"}
    assert "false alarm" not in said


def test_how_it_was_made_is_said_so_that_another_can_make_it():
    text = " ".join(page_of().text.split())
    for part in ("ab" * 32, "cd" * 32, "ef" * 32, "12" * 32, "orderlint 0.1.0", "“HEIGHT_U”"):
        assert part in text
    assert "the time at which it was written" in text
    assert "Not read: “ward”, “<script>”." in text
    assert "defers" in text or "local policy, which decide" in text


def test_two_policies_stand_side_by_side():
    text = " ".join(text_of().split())
    assert "“built-in policy” stops 1,530 and “adult unit” 1,490" in text
    assert re.search(rf"{MARGIN} +240 +180 +70 +10", text_of())
    assert "side by side" not in text_of(result(against=None))


@pytest.mark.slow
@pytest.mark.parametrize("nasty", [*MARKUP, "".join(NASTY), "".join(reversed(NASTY))])
def test_a_text_of_the_table_is_text_on_the_page_and_in_a_terminal(nasty):
    found = hostile(nasty)
    page_of(found)
    assert not HIDDEN.search(text_of(found))


def test_there_is_one_heading_of_the_first_level():
    page = as_page(result())
    assert page.count("<h1>") == 1
    assert page.index("<h1>") < page.index("<h2>")


def test_the_columns_that_are_changed_in_a_file_of_rows_are_said():
    written = [
        WrittenRows("rows.csv", 9, ("free <b>", "id")),
        WrittenRows("sheet.xlsx", 1, (), ("id",)),
    ]
    said = "In rows.csv, column free <b>, id, an apostrophe stands before what a spreadsheet would"
    for made in (blocks, brief_blocks):
        text = render_blocks(made(result(), RULES, written), width=10_000)
        assert said in text
        assert "1 row written to sheet.xlsx." in text
        assert "In sheet.xlsx, column id, texts were too long for a cell and are cut." in text
    assert said in taken_apart(as_page(result(), written)).text


def test_a_single_row_is_said_so():
    one = result(rows=1, refused=Refusals(1, {"why": 1}), stopped=0)
    assert "1 row. 1 is refused" in text_of(one)
