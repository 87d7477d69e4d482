"""An audit says of a table what verify says of each row: no difference, in any format."""

from __future__ import annotations

import random
from collections import Counter

import pytest
from audit.answers import audit, differences, without_sources
from audit.bases import TOP, clean
from audit.counts import counted, of_drawn
from audit.files import FORMATS, arguments, written
from audit.tables import COLUMNS, UNIT, one_for_each_rule, table, whole_row
from audit.truth import judged

import orderlint
from orderlint.audit import text_classes

PATHS = {*COLUMNS} - {"row", "unit", "checked"}


@pytest.fixture(scope="module")
def few():
    """Rows of a drawn table, as few as a fraction of a second takes to judge."""
    return [*table(11, 40)]


@pytest.fixture(scope="module")
def first(few, tmp_path_factory):
    """What is said of them in one Parquet file."""
    return audit(*written(few, tmp_path_factory.mktemp("first"), "parquet"), "--threads", "1")


@pytest.mark.slow
def test_the_counts_of_a_drawn_table_are_those_of_verify(few, first):
    assert differences(first, counted(few)) == {}


@pytest.mark.slow
@pytest.mark.parametrize("ending", [ending for ending in FORMATS if ending != "parquet"])
def test_the_same_table_in_any_format_has_the_same_result(ending, few, first, tmp_path):
    other = audit(*arguments(written(few, tmp_path, ending), ending))
    assert without_sources(other) == without_sources(first)


@pytest.mark.slow
def test_shuffled_in_several_files_on_several_threads_it_has_the_same_result(few, first, tmp_path):
    shuffled = random.Random(1).sample(few, len(few))
    other = audit(*written(shuffled, tmp_path, "csv", files=7), "--threads", "2")
    assert without_sources(other) == without_sources(first)


@pytest.mark.slow
def test_texts_that_are_forgotten_between_parts_are_read_anew(tmp_path, monkeypatch):
    monkeypatch.setattr(text_classes, "OF_A_TEXT", 10**12)
    odd = {"irrigation.rate": "some", "instructions": "pause above 31 mmHg", "therapy": ""}
    rows = [whole_row({**clean(), **cells}, n, None) for n, cells in enumerate((odd, {}))]
    said = audit(*written(rows, tmp_path, "parquet"), "--threads", "1", "--part-rows", "1")
    assert differences(said, counted(rows)) == {}


@pytest.mark.slow
def test_judged_as_of_another_column_it_is_what_verify_says_then(few, tmp_path):
    said = audit(*written(few[:20], tmp_path, "parquet"), "--as-of", "column:checked")
    assert differences(said, counted(few[:20], "checked")) == {}


SAYING_OTHERWISE = (
    "irrigation rate 50 mL/h",
    "If there is headache, irrigation rate 50 mL/h",
    "pause above 31 mmHg",
    "Do not pause above 31 mmHg unless awake",
    "drain height 99 cmH2O",
    "drain height 99 cmH2O while turned",
    "leave the drain clamped in transport; pause above 31 mmHg",
    "irrigation rate 50 mL/h, irrigation rate 51 mL/h",
    "Irrigation rate 90",
    "level at foramen of Monro",
    "irrigate with normal saline",
    "VOID",
    "hold order until seen",
    "Do not irrigate",
    "all levels in cmH2O",
    "treat below 8 mmHg",
    "EVD placed 2 March 2026",
    "add vancomycin to the bag",
)
"""Texts of which some name the same, but not all order it."""


@pytest.mark.slow
def test_texts_that_name_the_same_and_order_it_or_not_are_told_apart(tmp_path):
    rows = [
        whole_row({**cells, "instructions": text}, number, "East")
        for number, text in enumerate(SAYING_OTHERWISE)
        for cells in (
            clean(),
            {**clean(), "irrigation.rate": "x", "pause.upper": None, "drainage.landmark": None},
            {**clean(), "indication": "IVH on warfarin, aneurysm", "notify.events": text},
        )
    ]
    assert {"text-orders-otherwise", "text-number-differs"} <= {
        rule for row in rows for rule in judged(row).reported
    }
    said = audit(*written(rows, tmp_path, "parquet"))
    assert differences(said, counted(rows)) == {}


@pytest.mark.slow
def test_refused_rows_are_listed_with_the_reason_of_verify(tmp_path):
    chance = random.Random(9)
    rows = [
        {**row, "prescriber": chance.choice(("a\0b", "a\u200eb", "9" * 50))} for row in table(9, 9)
    ]
    rows[4] = whole_row(clean(), 4, "East")
    said = audit(*written(rows, tmp_path, "ndjson", files=2))
    found = [judged(row).refused for row in rows]
    assert said["refusals"]["by_reason"] == Counter(filter(None, found))
    first = [(each["row"], each["reason"]) for each in said["refusals"]["first"]]
    assert first == [(n % 5 + 1, why) for n, why in enumerate(found) if why]


def test_months_are_those_of_the_written_date(tmp_path):
    dates = (
        "2026-03-31T23:30:00-06:00",
        "2026-04-01T00:30:00+02:00",
        "2025-12-31T23:00Z",
        "soon",
        None,
    )
    rows = [{**whole_row(clean(), 0, "East"), "written": dates[n % 5]} for n in range(12)]
    said = audit(*written(rows, tmp_path, "csv"), "--month", "written")
    counts = said["months"]["counts"]
    assert {month: each["rows"] for month, each in counts.items()} == {
        "2025-12": 2, "2026-03": 3, "2026-04": 3, "": 4
    }  # fmt: skip
    for month, each in counts.items():
        of_month = [judged(row) for row in rows if (row["written"] or "")[:7] == (month or "soon")]
        stopped = sum(bool(found.stopping) for found in of_month)
        assert month == "" or each["stopped"] == stopped


@pytest.mark.slow
def test_the_rule_that_stops_most_is_counted_by_unit_and_month(few, tmp_path):
    dates = ("2026-02-28T23:30:00-06:00", "2026-03-02T14:10:00-06:00", None)
    units = ("a", "b", "c", "d", "e", None)
    rows = [
        {**row, "written": dates[n % 3], UNIT: units[n * n % 6]} for n, row in enumerate(few[:24])
    ]
    most = audit(*written(rows, tmp_path, "parquet"), "--month", "written")["stops_most"]
    table = most["groups"][UNIT]
    found = Counter()
    for row in rows:
        if most["rule"] in judged(row).reported:
            named = (row[UNIT] or "") in table["values"]
            place = table["values"].index(row[UNIT] or "") if named else len(table["values"])
            found[place, (row["written"] or "")[:7]] += 1
    assert found == +Counter(
        {(n, month): each for month, line in table["months"].items() for n, each in enumerate(line)}
    )
    assert found.total() > 2


LOOKS = {
    "id": ("00417", "1e5", "2026-03-02", "true", "NULL", "nan"),
    "revision": ("1", "2", "03", "4", "5", "6"),
    "treat_above": ("8", "08", "8.50", "1e1", "9", "7"),
    "written": tuple(f"2026-03-02T14:1{minute}:00-06:00" for minute in range(6)),
    "monitoring.relevel_on_move": ("true", "false", "true", "false", "true", "false"),
    "prescriber": ("null", "None", "NaN", "NA", "\\N", "-"),
    "instructions": ('"', "a,b", "a;b", "'", '""', "\\"),
    "stop_when": ("a\nb", "a\r\nb", "\ta", "a ", " a", "#a"),
}
"""Texts that a reader of tables may take for a number, a time, a truth, nothing, or a mark."""


@pytest.mark.slow
@pytest.mark.parametrize("ending", FORMATS)
def test_cells_that_look_like_something_else_stay_text(ending, tmp_path):
    changes = [{path: texts[number] for path, texts in LOOKS.items()} for number in range(6)]
    rows = [whole_row({**clean(), **cells}, n, "007") for n, cells in enumerate(changes)]
    said = audit(*arguments(written(rows, tmp_path, ending), ending))
    assert differences(said, counted(rows)) == {}


ALSO = pytest.mark.deep  # to build a rulebook on a policy takes as long as all else here
POLICIES = [
    "standing-orders",
    *(pytest.param(p, marks=ALSO) for p in ("adult-unit", "childrens-unit")),
]


@pytest.mark.slow
@pytest.mark.parametrize("policy", POLICIES)
def test_under_a_site_policy_it_is_what_verify_says_under_it(policy, few, tmp_path):
    file = TOP / f"examples/policy-{policy}.yaml"
    rows = [row for row in few if judged(row).written is not None][:15]
    said = audit(*written(rows, tmp_path, "parquet"), "--policy", file)
    assert differences(said, counted(rows, policy=orderlint.load_policy(file))) == {}


@pytest.mark.deep
def test_two_policies_side_by_side_are_each_by_itself(few, tmp_path):
    file = TOP / "examples/policy-childrens-unit.yaml"
    rows = [row for row in few if judged(row).written is not None][:12]
    files = written(rows, tmp_path, "parquet")
    against = audit(*files, "--against", file)["against"]
    alone = audit(*files, "--policy", file)
    for key in ("rules", "verdicts", "stopped"):
        assert against[key] == alone[key]
    moved = Counter()
    policy = orderlint.load_policy(file)
    for row in rows:
        here, there = judged(row).reported, judged(row, policy=policy).reported
        moved.update((rule, "only_before") for rule in {*here} - {*there})
        moved.update((rule, "only_after") for rule in {*there} - {*here})
    said = against["moved"].items()
    assert Counter({(rule, key): n for rule, each in said for key, n in each.items() if n}) == moved


@pytest.mark.slow
def test_rows_drawn_for_a_reviewer_are_reported_for_that_rule(few, tmp_path):
    rows = [*few[:20], *few[:10], *few[:5]]
    (file,) = written(rows, tmp_path, "parquet")
    samples = audit(file, "--sample", "2", "--seed", "3")["samples"]
    orders = [{path: text for path, text in row.items() if text and path in PATHS} for row in rows]
    found = [judged(row).reported for row in rows]
    distinct = Counter(rule for each in found[:20] for rule in each)
    assert {rule: len(drawn) for rule, drawn in samples.items()} == {
        rule: min(2, count) for rule, count in distinct.items()
    }
    for rule, drawn in samples.items():
        for each in drawn:
            at = each["row"] - 1
            assert each["cells"] == orders[at]
            assert rule in found[at]
            assert (orders.index(orders[at]), orders.count(orders[at])) == (at, each["times"])


@pytest.mark.deep
@pytest.mark.parametrize("as_of", ["written", "checked"])
def test_every_rule_is_counted_as_verify_finds_it(as_of, tmp_path):
    rows = [cells for _, cells in one_for_each_rule()]
    column = ("--as-of", f"column:{as_of}") if as_of != "written" else ()
    said = audit(*written(rows, tmp_path, "parquet"), *column)
    assert differences(said, counted(rows, as_of)) == {}


@pytest.mark.deep
def test_a_hundred_thousand_orders_differ_in_nothing(tmp_path):
    rows = [*table(1, 100_000)]
    assert len({text for row in rows for text in row.values() if text}) >= 180_000
    said = audit(*written(rows, tmp_path, "parquet"))
    assert differences(said, of_drawn(1, 100_000)) == {}


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """Ten thousand drawn orders, and what is said of them in one Parquet file."""
    rows = [*table(2, 10_000)]
    file = written(rows, tmp_path_factory.mktemp("many"), "parquet")
    return rows, without_sources(audit(*file, "--threads", "2"))


@pytest.mark.deep
@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize(("files", "threads"), [(1, 1), (1, 2), (50, 2)])
def test_ten_thousand_orders_are_the_same_however_they_stand(
    ending, files, threads, many, tmp_path
):
    rows, first = many
    shuffled = random.Random(files).sample(rows, len(rows))
    given = arguments(written(shuffled, tmp_path, ending, files), ending)
    assert without_sources(audit(*given, "--threads", str(threads))) == first
