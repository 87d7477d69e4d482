"""Two orders beside each other: what is said to be changed is what was changed, and no more."""

from __future__ import annotations

from fractions import Fraction

import pytest
from drawing import most
from hypothesis import given
from hypothesis import strategies as st
from orders import orders
from policy_files import LOCAL, RULE, local
from running import CLEAN

from orderlint.api.policies import load_policy
from orderlint.behaviour import behaviour_of, find_differences
from orderlint.comparison.orders import compare_orders
from orderlint.comparison.setting_changes import ChangeKind, setting_changes
from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Level, Verdict
from orderlint.order import SIGNING_FIELDS, Leaf, Order, State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.report.compare import words
from orderlint.rulebook.load import load
from orderlint.units import dimension_of_unit

AT = 1_772_551_800_000  # 2026-03-03T09:30:00-06:00, before the clean order is to be reviewed
TEXT = CLEAN.read_text(encoding="utf-8")
NEXT = (("revision: 1", "revision: 2"),)


def order(*changes, file="order.yaml"):
    """The clean order with texts replaced, each of which must be there."""
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return read_order(read(text.encode(), file, "order"))


def compared(*changes, before=(), at=AT):
    first, second = order(*before, file="before.yaml"), order(*NEXT, *changes)
    return compare_orders(first, second, at, load("change"))


def rules(found):
    return [finding.rule for finding in found.assessment.findings]


def test_ten_times_the_rate_is_a_decimal_slip_alone():
    found = compared(("rate: 60 mL/h", "rate: 30 mL/h"), before=[("rate: 60 mL/h", "rate: 3 mL/h")])
    assert rules(found) == ["decimal-slip"]
    assert found.assessment.findings[0].says == (
        "The irrigation rate was 3 mL/h and is now 30 mL/h, exactly 10 times as much."
    )
    assert found.assessment.findings[0].also[0].name == "Irrigation rate before"
    assert found.assessment.findings[0].also[0].place.file == "before.yaml"


def _with_strength(strength):
    return ("additive: none", f"additive: {{name: demo drug, concentration: {strength}}}")


@pytest.mark.parametrize(
    ("after", "found", "factor"),
    [
        ("100 mg/L", ["decimal-slip"], 10),
        ("10 mg/mL", ["additive-thousand-times"], 1000),
        ("10 mcg/mL", ["amount-unit-changed"], None),
        ("10 units/L", ["amount-unit-changed"], None),
        ("20 mg/L", [], 2),
    ],
)
def test_a_slip_of_a_strength_is_seen(after, found, factor):
    changed = compared(_with_strength(after), before=[_with_strength("10 mg/L")])
    assert rules(changed) == found
    (row,) = (row for row in changed.settings if row.path.startswith("irrigation.additive"))
    assert row.factor == factor
    kinds = {"10 mcg/mL": ChangeKind.UNIT_ALONE}
    assert row.kind is kinds.get(after, ChangeKind.CHANGED)


def test_mass_and_units_are_not_compared():
    changed = compared(_with_strength("10 units/L"), before=[_with_strength("10 mg/L")])
    assert "decimal-slip" in [rule.rule for rule in changed.assessment.unchecked]


def test_sixty_to_seventy_is_nothing():
    found = compared(("rate: 60 mL/h", "rate: 70 mL/h"))
    assert (rules(found), found.assessment.unchecked, found.verdict) == ([], (), Verdict.CLEAR)
    (row,) = found.settings
    assert (row.path, row.kind, row.factor) == (
        "irrigation.rate",
        ChangeKind.CHANGED,
        Fraction(7, 6),
    )
    assert found.differences == ()


def test_the_same_pressure_in_another_unit_is_said_to_be_the_same():
    found = compared(("treat_above: 8 mmHg", "treat_above: 10.87608 cmH2O"))
    assert [(row.path, row.kind) for row in found.settings] == [
        ("treat_above", ChangeKind.UNIT_ALONE)
    ]
    assert rules(found) == ["unit-changed"]
    assert found.differences == ()


def test_the_same_number_in_another_unit_is_another_pressure():
    found = compared(("upper: 22 mmHg", "upper: 22 cmH2O"))
    assert [(row.path, row.kind) for row in found.settings] == [("pause.upper", ChangeKind.CHANGED)]
    (stretch,) = found.differences
    # 22 cmH2O and 22 mmHg, in ticks of 1e-7 cmH2O: 1 mmHg is 1.35951 cmH2O.
    assert (stretch.start, stretch.end) == (220_000_000, 22 * 13_595_100)
    assert (stretch.one.irrigation, stretch.other.irrigation) == ("on", "off")


WATER = (
    ("display_unit: mmHg", "display_unit: cmH2O"),
    ("lower: 2 mmHg", "lower: 3 cmH2O"),
    ("treat_above: 8 mmHg", "treat_above: 11 cmH2O"),
    ("icp_above: 20 mmHg", "icp_above: 27 cmH2O"),
    ("icp_below: 3 mmHg", "icp_below: 4 cmH2O"),
)


def test_another_display_unit_throughout_is_one_question():
    found = compared(*WATER, ("upper: 22 mmHg", "upper: 30 cmH2O"))
    assert rules(found) == ["display-unit-changed"]
    assert len(found.reworded) == 5
    said = [*words.change_words(found)]
    assert said[1:] == ["5 levels now in cmH2O, within 1 cmH2O of what was written before."]
    assert len(found.settings) == 6  # as data, each is there


def test_a_level_that_moves_by_more_with_the_display_unit_is_listed_and_asked_about():
    found = compared(*WATER, ("upper: 22 mmHg", "upper: 22 cmH2O"))
    assert set(rules(found)) == {"display-unit-changed", "unit-changed"}
    assert "pause.upper" not in found.reworded
    assert sum("Upper pause limit" in line for line in words.change_words(found)) == 1


def test_a_drug_takes_the_place_of_the_word_for_none():
    drug = "additive: {name: an antibiotic, concentration: 1 mg/mL, class: antimicrobial}"
    found = compared(("additive: none ", f"{drug} "))
    ways = {row.path: row.kind for row in found.settings}
    assert ways == {
        f"irrigation.additive.{part}": ChangeKind.ADDED
        for part in ("name", "concentration", "class")
    }
    back = compared(before=[("additive: none ", f"{drug} ")])
    assert {row.kind for row in back.settings} == {ChangeKind.LEFT_OUT}
    assert len(back.settings) == 3


@pytest.mark.parametrize(
    ("id_", "revision", "expected"),
    [
        ("demo-0417", 2, []),
        ("demo-0417", 1, ["revision-not-later"]),
        ("demo-0418", 1, ["order-id-differs"]),
    ],
)
def test_orders_that_may_not_belong_together_are_asked_about(id_, revision, expected):
    second = order(("id: demo-0417", f"id: {id_}"), ("revision: 1", f"revision: {revision}"))
    found = compare_orders(order(), second, AT, load("change"))
    assert rules(found) == expected


def test_a_review_that_changed_nothing_is_asked_about():
    later = ("review_by: 2026-03-03", "review_by: 2026-03-04")
    assert rules(compared(later)) == ["unchanged-past-review"]
    assert rules(compared(later, ("treat_above: 8", "treat_above: 9"))) == []
    assert rules(compared()) == []
    assert rules(compared(at=AT + 86_400_000)) == ["unchanged-past-review"]


def test_what_cannot_be_read_is_never_unchanged():
    later = ("review_by: 2026-03-03", "review_by: 2026-03-04")
    bad = ("rate: 60 mL/h", "rate: 60")
    found = compared(later, bad, before=[bad])
    assert [(row.path, row.kind) for row in found.settings] == [
        ("irrigation.rate", ChangeKind.OPEN)
    ]
    left = {item.rule: item for item in found.assessment.unchecked}
    assert left["unchanged-past-review"].missing == ("irrigation.rate",)
    assert left["decimal-slip"].level is Level.DO_NOT_START
    assert found.verdict is not Verdict.CLEAR


@pytest.mark.parametrize(
    ("old", "new", "rule", "missing"),
    [
        ("revision: 2", "revision: two", "revision-not-later", ("revision",)),
        ("review_by: 2026-03-03T15:00:00-06:00", "review_by: soon", "unchanged-past-review", None),
    ],
)
def test_a_fact_of_signing_that_cannot_be_read_leaves_its_rule_open(old, new, rule, missing):
    found = compared((old, new))
    left = {item.rule: item.missing for item in found.assessment.unchecked}
    assert left[rule] == (missing or ("review_by",))
    assert rule not in rules(found)


def test_an_earlier_review_time_that_cannot_be_read_is_named_as_before():
    found = compared(before=[("review_by: 2026-03-03T15:00:00-06:00", "review_by: soon")])
    left = {item.rule: item.missing for item in found.assessment.unchecked}
    assert left["unchanged-past-review"] == ("before.review_by",)


def test_the_verdict_counts_the_later_order_and_not_the_earlier():
    bad = ("upper: 22 mmHg", "upper: 2 mmHg")
    assert compared(bad).verdict is Verdict.DO_NOT_START
    assert compared(before=[bad]).verdict is Verdict.CLEAR


def test_without_a_table_of_behaviour_none_is_compared():
    found = compared(("treat_above: 8 mmHg", "treat_above: 8"))
    assert (found.differences, found.after.behaviour.missing) == ((), ("treat_above",))


def test_the_rulebook_without_rules_on_changes_is_not_asked():
    assert {rule.family for rule in load("all").change_rules} == {"change"}


def test_a_rule_on_a_change_that_the_policy_leaves_out_is_named_beside_the_change_alone():
    changed = RULE.replace(
        "require: pause.upper - pause.lower >= wide",
        "require: treat_above - before.treat_above < site.window_min",
    ).replace("{pause.lower} to {pause.upper}", "{treat_above}")
    left_out = f"values:\n  window_min: {{value: left out, {LOCAL}}}\n"
    found = compare_orders(order(), order(), AT, local(left_out + changed))
    assert "demo" in {item.rule for item in found.assessment.inactive}
    assert "demo" not in {item.rule for item in found.after.assessment.inactive}


@most(60)
@given(orders())
def test_an_order_beside_itself_has_no_change(leaves):
    readable = {p: leaf for p, leaf in leaves.items() if leaf.state is not State.UNREADABLE}
    leaves = {path: readable.get(path, Leaf(path)) for path in leaves}
    assert list(setting_changes(leaves, leaves)) == []
    same = Order("order.yaml", {p: f for p, f in leaves.items() if p != CHECKED_AT}, ())
    found = compare_orders(same, same, AT, load("change"))
    assert {*rules(found)} <= {"revision-not-later", "unchanged-past-review"}
    assert (found.settings, found.signed, found.differences) == ((), (), ())


@most(60)
@given(orders(), orders(), st.sampled_from(sorted({*field_table().fields} - SIGNING_FIELDS)))
def test_one_setting_that_is_changed_is_the_one_that_is_named(leaves, others, path):
    changed = {**leaves, path: others[path]}
    found = {row.path: row for row in setting_changes(leaves, changed)}
    unreadable = {p for p, leaf in leaves.items() if leaf.state is State.UNREADABLE}
    assert {*found} - unreadable <= {path}
    assert {*found} >= unreadable - {path, CHECKED_AT}
    old, new = leaves[path], others[path]
    if old.known and new.known:
        differs = (old.value, old.unit) != (new.value, new.unit)
        assert (path in found) == differs
        if old.value == new.value and differs:
            alone = dimension_of_unit(old.unit) == dimension_of_unit(new.unit)
            assert found[path].kind is (ChangeKind.UNIT_ALONE if alone else ChangeKind.CHANGED)


def test_a_mass_and_an_activity_with_the_same_number_are_never_the_same_amount():
    path = "irrigation.additive.concentration"
    mass, activity = (Leaf(path, State.KNOWN, 1000, unit, "x") for unit in ("mg/L", "units/mL"))
    leaves = {item: Leaf(item) for item in field_table().fields}
    (found,) = setting_changes({**leaves, path: mass}, {**leaves, path: activity})
    assert (found.kind, found.factor) == (ChangeKind.CHANGED, None)


@most(60)
@given(orders(), orders())
def test_backwards_it_is_the_contrary(first, second):
    turned = {ChangeKind.ADDED: ChangeKind.LEFT_OUT, ChangeKind.LEFT_OUT: ChangeKind.ADDED}
    there = {row.path: row for row in setting_changes(first, second)}
    back = {row.path: row for row in setting_changes(second, first)}
    assert there.keys() == back.keys()
    for path, row in there.items():
        assert back[path].kind is turned.get(row.kind, row.kind)
        if row.factor is not None:
            assert row.factor * back[path].factor == 1


@most(30)
@given(orders(), orders())
def test_what_the_controller_does_is_held_side_by_side(first, second):
    leaves = [{p: f for p, f in o.items() if p != CHECKED_AT} for o in (first, second)]
    found = compare_orders(*(Order("o", o, ()) for o in leaves), AT, load("change"))
    tables = [behaviour_of(o, "gravity") for o in leaves]
    lacking = any(table.missing for table in tables)
    assert found.differences == (() if lacking else tuple(find_differences(*tables)))


def test_a_policy_can_suppress_a_rule_on_a_change(tmp_path):

    file = tmp_path / "policy.yaml"
    file.write_text(
        "document: site-policy\nformat: 1\ntitle: an invented policy\nsuppressions:\n"
        "  - {rule: rate-jump, reason: invented, approved_by: a committee, "
        'until: "2030-01-01T00:00:00Z"}\n'
    )
    first, second = order(), order(*NEXT, ("rate: 60 mL/h", "rate: 29 mL/h"))
    found = compare_orders(first, second, AT, load_policy(file).rulebook)
    assert (rules(found), [item.finding.rule for item in found.assessment.suppressed]) == (
        [],
        ["rate-jump"],
    )
    assert found.verdict is Verdict.CLEAR
