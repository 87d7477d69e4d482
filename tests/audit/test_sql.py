"""The query of an audit, with a few rules in DuckDB: it counts what is meant, or nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from databases import InDuckDB, Rows, table_of
from few_rules import RULES, book, query
from rows_of_texts import drawn_rows, meaning, pool, read_row

from orderlint.audit.sql.outcomes import RowOutcome, outcome_of
from orderlint.audit.sql.planted_rows import verified_leaves
from orderlint.audit.sql.query import standard_query
from orderlint.audit.sql.read_texts import flag_column, keys_of, write_texts
from orderlint.audit.sql.self_check import REFUSED
from orderlint.audit.sql.spec import Query, asked_of
from orderlint.language.tree import And
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.tables.table_map import MappedColumn

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
COUNTS = ("broken", "kept", "not_asked", "unchecked")


def names_of(asked):
    read = [name for each in asked.mapping for name in (each.column, each.unit_column) if name]
    return tuple(dict.fromkeys([*read, *asked.by, *([asked.as_of] if asked.as_of else [])]))


def tables(asked, rows, folder, **changes):
    """The rows and their read texts in DuckDB; `changes` replace columns of the read texts."""
    orders = table_of(rows, names_of(asked))
    file = folder / "texts.parquet"
    write_texts(str(file), asked.asked.table, keys_of(asked, [Rows(orders)], names_of(asked)))
    found = InDuckDB(orders, str(file))
    for column, value in changes.items():
        found.connection.execute(f"UPDATE read_texts SET {column} = {value}")
    return found


def counts(found):
    return {
        row["rule"]: {name: row[name] for name in COUNTS if row[name]}
        for row in found
        if row["by_column"] is None and row["note"] is None
    }


def refusal(found):
    """What the one row of a refusal says."""
    (row,) = found
    assert row["rule"].startswith(REFUSED)
    assert {row[name] for name in (*COUNTS, "all_rows", "refused")} == {None}
    return row["rule"].removeprefix(REFUSED)


@pytest.mark.slow
def test_it_counts_what_is_meant(tmp_path):
    rows = drawn_rows(150, seed=7, paths=[each.path for each in query().mapping])
    found = tables(query(), rows, tmp_path).run(standard_query(query()))
    meant = meaning(rows, book())
    del meant["offset-not-of-zone"]
    assert counts(found) == {rule: dict(each) for rule, each in meant.items()}
    assert {row["refused"] for row in found} == {sum(read_row(row) is None for row in rows)}
    assert [row["rule"] for row in found if row["note"]] == ["offset-not-of-zone"]


def test_units_beside_numbers_and_words_for_nothing_are_read_as_an_audit_reads_them(tmp_path):
    columns = (
        MappedColumn("pause.upper", "Pause high", "Unit", absent=("-",)),
        MappedColumn("treat_above", "treat_above", unit="mmHg", absent=("n/a", "it's")),
    )
    asked = query(columns=columns)
    cells = [("20", "mmHg", "25"), ("20", "-", "25"), ("-", "mmHg", "25"), ("30", "cmH2O", "n/a")]
    cells += [("20", None, "it's"), (None, "mmHg", None), ("20 mmHg", None, "8"), (" ", "mmHg", "")]
    names = ("Pause high", "Unit", "treat_above")
    rows = [{"therapy": "irrigation", **dict(zip(names, each, strict=True))} for each in cells]
    meant = [("20 mmHg", "25 mmHg"), ("20", "25 mmHg"), ("", "25 mmHg"), ("30 cmH2O", "")]
    meant += [("20", ""), ("", ""), ("20 mmHg", "8 mmHg"), ("  mmHg", "")]
    texts = [{"therapy": "irrigation", "pause.upper": p, "treat_above": t} for p, t in meant]
    found = tables(asked, rows, tmp_path).run(standard_query(asked))
    assert counts(found)["treat-above-over-upper-pause"] == dict(
        meaning(texts, book())["treat-above-over-upper-pause"]
    )


def test_rows_are_grouped_and_a_small_count_cannot_be_told(tmp_path):
    asked = query(by=("unit", "shift"))
    rows = [{"therapy": "irrigation", "unit": "a", "shift": "x"}] * 7
    rows += [{"therapy": "drainage", "unit": "a", "shift": "y"}] * 2
    rows += [{"therapy": "irrigation", "unit": None, "shift": "y"}] * 6
    found = tables(asked, rows, tmp_path).run(standard_query(asked))
    told = {
        (row["by_column"], row["by_value"]): (row["all_rows"], row["broken"], row["not_asked"])
        for row in found
        if row["rule"] == "missing-irrigation-rate"
    }
    assert told == {
        (None, None): (15, 13, 2),
        ("unit", "a"): (9, None, None),
        ("unit", None): (6, 6, 0),
        ("shift", "x"): (7, 7, 0),
        ("shift", "y"): (8, None, None),
    }


def test_each_row_is_judged_as_of_its_own_time(tmp_path):
    asked = replace(query(), as_of="seen")
    late, soon = "2026-03-05T08:00:00Z", "2026-03-01T08:00:00Z"
    row = {"status": "active", "review_by": "2026-03-03T08:00:00Z", "written": soon}
    rows = [{**row, "seen": at} for at in (late, soon, None, "no time")]
    found = counts(tables(asked, rows, tmp_path).run(standard_query(asked)))
    assert found["order-past-review"] == {"broken": 1, "kept": 1, "unchecked": 2}


def test_what_an_order_leaves_to_the_standing_orders_is_theirs(tmp_path):
    file = EXAMPLES / "policy-standing-orders.yaml"
    whole = load("all", read(file.read_bytes(), file.name, "site-policy"))
    rules = (
        "missing-monitoring-level-every",
        "transport-clamped-unwatched",
        "check-interval-too-long",
    )
    few = whole._replace(rules={name: whole.rules[name] for name in rules})
    asked = asked_of(few)
    paths = sorted({*asked.table.tests} & {*pool()})
    own = Query(asked, tuple(MappedColumn(path, path) for path in paths))
    rows = drawn_rows(60, seed=3, paths=paths)
    found = counts(tables(own, rows, tmp_path).run(standard_query(own)))
    assert found == {rule: dict(each) for rule, each in meaning(rows, few).items()}
    assert found != {rule: dict(each) for rule, each in meaning(rows, _built_in(rules)).items()}


def _built_in(rules):
    whole = load("all")
    return whole._replace(rules={name: whole.rules[name] for name in rules})


@pytest.mark.slow
def test_texts_that_were_not_read_or_stand_twice_are_refused(tmp_path):
    rows = [{"treat_above": "8 mmHg"}]
    here = tables(query(), rows, tmp_path)
    here.connection.execute("DELETE FROM read_texts WHERE path = 'treat_above' AND text = '8 mmHg'")
    # The text is one of a planted order as well; another stands in no planted order.
    assert refusal(here.run(standard_query(query())))
    here = tables(query(), [{"treat_above": "8.25 mmHg"}], tmp_path)
    assert counts(here.run(standard_query(query())))
    here.connection.execute("DELETE FROM read_texts WHERE text = '8.25 mmHg'")
    assert "are not in the table" in refusal(here.run(standard_query(query())))
    here = tables(query(), [{"treat_above": "8.25 mmHg"}], tmp_path)
    here.connection.execute("INSERT INTO read_texts FROM read_texts WHERE text = '8.25 mmHg'")
    assert "stand twice" in refusal(here.run(standard_query(query())))


MISTAKES = {
    "made for another rulebook": {"made_for": "'x'"},
    "NULL for a false flag": {
        flag_column("number without comma"): f"nullif({flag_column('number without comma')}, false)"
    },
    "what is written is absent": {"given": "false"},
    "numbers are lost": {"number": "NULL"},
    "units are lost": {"unit": "NULL"},
    "faults are lost": {"fault": "NULL"},
}


@pytest.mark.slow
@pytest.mark.parametrize("name", MISTAKES)
def test_a_wrong_table_of_read_texts_is_refused(name, tmp_path):
    here = tables(query(), [{"treat_above": "8.25 mmHg"}], tmp_path, **MISTAKES[name])
    said = refusal(here.run(standard_query(query())))
    assert "planted orders" in said


def with_rule(asked, name, change):
    """The query with one rule changed, and the planted orders as they were."""
    rules = tuple(change(each) if each.rule == name else each for each in asked.asked.rules)
    return replace(asked, asked=asked.asked._replace(rules=rules))


WRONG = {
    "unknown is kept": lambda text: text.replace(" ELSE 2 END", " ELSE 1 END"),
    "not asked is kept": lambda text: text.replace("WHEN FALSE THEN 0 ELSE 1", "WHEN FALSE THEN 1"),
    "less is at most": lambda text: text.replace(" < ", " <= "),
    "names are texts": lambda text: text.replace('"treat_above"', "NULL"),
    "words are lost": lambda text: text.replace("'irrigation'", "'Irrigation'"),
    "no row is planted": lambda text: text.replace(
        "FROM planted_rows AS r", "FROM planted_rows AS r JOIN (SELECT 1 WHERE FALSE) AS e ON TRUE"
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", WRONG)
def test_a_query_that_means_something_else_is_refused(name, tmp_path):
    text = standard_query(query())
    wrong = WRONG[name](text)
    assert wrong != text
    assert refusal(tables(query(), [{}], tmp_path).run(wrong))


def test_a_dropped_setting_is_refused(tmp_path):
    here = tables(query(), [{}], tmp_path)
    dropped = with_rule(
        query(), "number-without-comma", lambda each: each._replace(kept=And(each.kept.items[1:]))
    )
    assert "number-without-comma" in refusal(here.run(standard_query(dropped)))


def notices(trees, rows, read):
    """Whether some planted order of the rule shows that the trees are others."""
    return any(outcome_of(trees, read(row)) is not row.expected for row in rows)


@pytest.mark.parametrize("name", RULES)
def test_the_planted_orders_of_a_rule_show_each_setting_that_is_dropped(name):
    asked = query().asked
    trees = next(each for each in asked.rules if each.rule == name)
    rows = [row for row in asked.planted.rows if row.rule == name]
    assert RowOutcome.BROKEN in {row.expected for row in rows}
    leaves = {id(row): verified_leaves(row.texts, None) for row in rows}

    def read(row):
        return leaves[id(row)]

    assert not notices(trees, rows, read)
    for at in range(len(trees.kept.items)):
        others = And((*trees.kept.items[:at], *trees.kept.items[at + 1 :]))
        assert notices(trees._replace(kept=others), rows, read), at
