"""Conditions are judged alike by the walk and by the function, with words and without."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawing import most
from hypothesis import given
from rule_examples import NAMES, examples, rulebook_for
from texts import as_yaml, trees

from orderlint.assessment import without_covered
from orderlint.broken_rules import Break, to_findings
from orderlint.conditions import WALKED, Conditions, change_conditions, order_conditions
from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Place, Refused
from orderlint.order import Leaf, Order, State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.verification import judge_order, verify_order

AT = 1_772_483_400_000  # 2026-03-02T14:30:00-06:00
BOOK = load("order")
ABSENT = {path: Leaf(path) for path in field_table().fields}
LEAVES = {**ABSENT, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, AT)}
FEW = [rule for rule in BOOK.order_rules if rule.family in {"band", "complete"}]
EXAMPLES = Path(__file__).parents[1] / "examples"


def order_of(data: bytes) -> Order:
    return read_order(read(data, "order.yaml", "order"))


def test_the_first_orders_are_walked_and_the_function_says_the_same_of_the_next(monkeypatch):
    conditions = Conditions(FEW)
    walked = [conditions.judge(LEAVES) for _ in range(WALKED)]
    with monkeypatch.context() as patched:
        patched.setattr("orderlint.conditions.evaluate", None)
        broken, unknown = conditions.judge(LEAVES)
    assert walked == [(broken, unknown)] * WALKED
    assert broken
    assert unknown
    # That of one order is that of the next, so that its words are filled once.
    assert all(a is b for a, b in zip(broken, walked[0][0], strict=True))


def test_the_function_can_be_made_before_the_first_order(monkeypatch):
    conditions = Conditions(FEW)
    walked = conditions.walk(LEAVES)
    made = conditions.compiled()
    monkeypatch.setattr("orderlint.conditions.evaluate", None)
    assert made(LEAVES) == walked
    assert conditions.judge(LEAVES)[1] == walked[1]
    assert conditions.compiled() is made


def test_conditions_are_kept_for_a_rulebook_and_for_no_other_that_is_equal():
    assert order_conditions(BOOK) is order_conditions(BOOK)
    assert order_conditions(BOOK).rules == BOOK.order_rules
    other = BOOK._replace(policy=BOOK.policy)
    assert other == BOOK
    assert order_conditions(other) is not order_conditions(BOOK)
    assert change_conditions(BOOK) is not order_conditions(BOOK)
    assert change_conditions(load("change")).rules == load("change").change_rules


def says_the_same(order: Order, at: int, rulebook) -> None:
    """What is judged without words is what is found with them."""
    judged = judge_order(order, at, rulebook)
    found = verify_order(order, at, rulebook).assessment
    assert judged.verdict is found.verdict
    shown = {item.rule.id for item in without_covered(judged.broken)}
    assert shown == {finding.rule for finding in found.findings}
    silenced = [item.rule.id for items in judged.silenced.values() for item in items]
    assert {*silenced} == {item.finding.rule for item in found.suppressed}
    assert bool(judged.unknown) == bool(found.unchecked)


@most(60)
@given(trees())
def test_an_order_is_judged_without_words_as_with_them(data):
    says_the_same(order_of(as_yaml(data)), AT, BOOK)


def test_so_it_is_under_a_policy_with_suppressions():
    policy = read((EXAMPLES / "policy-adult-unit.yaml").read_bytes(), "policy.yaml", "site-policy")
    rulebook = load("order", policy)
    assert rulebook.suppressions
    for example in ("minimal", "free-text", "misspelt-keys"):
        order = order_of((EXAMPLES / f"{example}.yaml").read_bytes())
        for at in (AT, AT + 400 * 86_400_000):  # by then the suppressions have ended
            says_the_same(order, at, rulebook)


@pytest.mark.deep
def test_so_are_the_examples_of_every_rule():
    for name in NAMES:
        for example in examples(name):
            try:
                order, rulebook = example.order, rulebook_for(example)
            except Refused:
                continue
            says_the_same(order, example.at, rulebook)


def test_a_finding_at_nothing_written_is_the_one_that_its_words_make(monkeypatch):
    order = Order("order.yaml", ABSENT, (), {"": Place("order.yaml", 2, 1)})
    # Breaks of every condition, whatever it asks: only their words are looked at.
    broken = [Break(r, each.paths, each) for r in BOOK.order_rules for each in r.instances]
    quick = to_findings(broken, order, LEAVES, apart=True)
    assert sum(item.unwritten is not None for item in broken) > 100
    monkeypatch.setattr(Break, "unwritten", None)
    assert to_findings(broken, order, LEAVES, apart=True) == quick
