"""The order shown for a broken rule is a file that `verify` reads, and that breaks the rule."""

from __future__ import annotations

import functools
import json

import pytest
from drawing import most
from hypothesis import given
from order_sets import AT, EXAMPLES, reviewed, some_rules, whole
from set_texts import sets

from orderlint.order_set.read import read_order_set
from orderlint.order_set.static_checks import with_controller_steps
from orderlint.proof.counterexample import counterexample_of
from orderlint.proof.prover import Prover
from orderlint.reading import read
from orderlint.report.order.json import order_file
from orderlint.report.review.json import render
from orderlint.rulebook.load import load
from orderlint.verification import verify

SETS = sorted(file.name for file in EXAMPLES.glob("set-*.yaml"))


@functools.cache
def documents(name):
    return json.loads(render([reviewed(name)], (), AT))["documents"]


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
def test_each_order_that_breaks_a_rule_can_be_written_out_and_verified(name):
    book = load("order")
    for proof in documents(name)[0]["proofs"]:
        if proof["result"] == "broken":
            verified = verify(json.dumps(proof["order"]).encode(), "order.json", AT)
            found = {finding.rule for finding in verified.assessment.findings}
            silent = {rule for each in found for rule in book.rules[each].covers}
            assert proof["rule"] in found | silent


@most(30)
@given(sets(odd=False))
def test_each_order_from_any_set_can_be_written_out_and_verified(data):
    book = some_rules(40)
    document = read(json.dumps(data).encode(), "set.json", "order-set")
    prover = Prover(read_order_set(document, book.derived), book.order_rules)
    for rule in book.order_rules:
        proof = prover.decide(rule)
        if proof.result.value == "broken":
            leaves = counterexample_of(prover, rule, proof).leaves
            verified = verify(json.dumps(order_file(leaves)).encode(), "order.json", AT)
            found = {finding.rule for finding in verified.assessment.findings}
            silent = {name for each in found for name in load("order").rules[each].covers}
            assert rule.id in found | silent


def pick(entries, rule):
    """What is shown of each setting of the nearest order that breaks a rule of the clean set."""
    text = (EXAMPLES / "set-irrigation-adult.yaml").read_text(encoding="utf-8")
    for line in entries:
        key = line.partition(":")[0]
        (old,) = [row.strip() for row in text.splitlines() if row.strip().startswith(f"{key}:")]
        text = text.replace(old, line, 1)
    book = load("order-set")
    prover = Prover(with_controller_steps(whole(text), book), [book.rules[rule]])
    found = counterexample_of(prover, book.rules[rule], prover.decide(book.rules[rule]))
    return {pick.path: pick.leaf.text for pick in found.picks}


def test_a_value_in_a_blank_stands_on_a_whole_step_of_the_controller_where_one_will_do():
    blank = "height: {blank: required, label: Height}"
    assert pick([blank], "drain-above-treat-above")["drainage.height"] == "9 mmHg"
    blank = "treat_above: {blank: required, label: Treat above}"
    assert pick([blank], "treating-window-narrow")["treat_above"] == "18 mmHg"


def test_a_value_in_a_blank_that_must_be_finer_is_shown_with_all_its_digits():
    blank = "rate: {blank: required, label: Rate}"
    assert pick([blank], "rate-not-settable")["irrigation.rate"] == "59.999 mL/h"


def test_an_instant_in_a_blank_is_shown_as_it_would_be_typed():
    (document,) = documents("set-irrigation-corners.yaml")
    orders = [proof["order"] for proof in document["proofs"] if proof["result"] == "broken"]
    assert {order["starts"] for order in orders} == {"2026-03-02T21:00:00Z"}
