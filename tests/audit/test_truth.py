"""The truth that audits are held against, held against `verify` itself and the rulebook."""

from __future__ import annotations

import pytest
from audit.bases import clean
from audit.counts import counted, never_broken, of_drawn, sums
from audit.tables import UNIT, one_for_each_rule, row, table, whole_row
from audit.truth import OUTCOMES, document, judged

from orderlint.finding import Verdict
from orderlint.language.lower import lower
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import context_of

NEVER = {
    "key-not-known": "a path that no order has is refused before a row is read",
    "upper-pause-over-infant-threshold": "the built-in policy gives no value",
    "irrigation-rate-high-for-weight": "the built-in policy gives no value",
    "drain-height-outside-scale": "the built-in policy gives no value",
    "adult-needs-own-policy": "the built-in policy is for adults",
}
"""The rules that no row breaks under the built-in policy."""


def test_rows_from_one_seed_are_the_same_and_from_another_are_not():
    assert [*table(7, 20)] == [row(7, number) for number in range(20)]
    assert [*table(7, 20)] != [*table(8, 20)]


@pytest.mark.slow
def test_rows_that_are_judged_agree_with_verify_and_have_one_outcome_a_rule():
    total = counted(table(5, 40))
    assert total["rows",] == 40
    assert set(sums(total).values()) == {total["rows",] - total["refused",]}


def test_a_text_beside_its_section_is_refused():
    both = {"irrigation.additive": "none", "irrigation.additive.name": "a drug"}
    assert judged(whole_row(both, 0, None)).refused.startswith("The same key stands twice")


@pytest.mark.parametrize("text", ["8\0 mmHg", "8 \u200emmHg", "8\r mmHg", "8 " * 10_001, "8" * 41])
def test_what_no_order_may_hold_is_refused(text):
    assert judged(whole_row({**clean(), "treat_above": text}, 0, None)).refused


def test_a_cell_that_is_empty_is_not_in_the_document():
    cells = {"pause.lower": "2 mmHg", "pause.upper": "", "treat_above": None, UNIT: "a"}
    wanted = b'{"document": "order", "format": 1, "pause": {"lower": "2 mmHg"}}'
    assert document(cells) == wanted


def test_without_an_instant_an_order_that_is_clean_is_incomplete():
    found = judged(whole_row(clean(), 0, None), "checked")
    assert (found.verdict, {*found.reported}) == (Verdict.INCOMPLETE, set())
    assert {*found.lacking.values()} == {("checked_at",)}


def test_a_condition_is_its_context_and_its_requirement():
    # By the context alone a rule counts as asked or not.
    for rule in load("order").order_rules:
        for instance in rule.instances:
            require = lower(rule.require, instance.scope)
            context = context_of(rule, instance)
            assert (instance.condition == require) is (context is None)
            assert context is None or instance.condition.items[1] == require


@pytest.mark.deep
def test_every_rule_is_broken_by_its_own_examples():
    rows = [cells for _, cells in one_for_each_rule()]
    assert set(never_broken(counted(rows, "checked"))) == {*NEVER}


@pytest.mark.deep
def test_all_can_happen_in_a_drawn_table():
    total = of_drawn(3, 10_000)
    assert set(never_broken(total)) == {*NEVER, "checked-before-written"}  # checked as written
    happened = {key[2] for key in total if key[0] == "rule"}
    assert happened == {*OUTCOMES, "reported", "only"}
    verdicts = {key[1] for key in total if key[0] == "verdict"}
    assert verdicts == {*Verdict} - {Verdict.INCOMPLETE}
