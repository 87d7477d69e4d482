"""Every rule over small sets comes out as it does when each order is tried."""

from __future__ import annotations

import re
from unittest import mock

import pytest
from drawing import most
from drawn_sets import TURNS, Signed, distance, every_order, is_broken, outcome, sets_and_rules
from hypothesis import given, settings

from orderlint.proof.counterexample import counterexample_of
from orderlint.proof.enumeration import partition
from orderlint.proof.prover import Prover


def check(drawn):
    order_set, rulebook = drawn
    orders = list(every_order(order_set))
    prover = Prover(order_set, rulebook.rules.values())
    for proof in (prover.decide(rule) for rule in rulebook.rules.values()):
        rule = rulebook.rules[proof.rule]
        if proof.reasons == (TURNS,):
            assert proof.result.value == "not-proved"
            continue
        assert proof.result.value == outcome(rule, orders)
        if proof.result.value == "broken":
            nearest(prover, rule, proof, orders)


def nearest(prover, rule, proof, orders):
    found = counterexample_of(prover, rule, proof)
    order_set = prover.space.order_set
    best = min((o for o in orders if is_broken(rule, o)), key=lambda o: distance(order_set, o))

    met = Signed(found.whole.chosen, found.whole.sections_on, found.leaves)
    assert met == best
    assert found.is_least


@pytest.mark.slow
@most(60)
@given(sets_and_rules())
def test_blanks_with_too_many_values_to_list_are_split(drawn):
    order_set, rulebook = drawn
    orders = list(every_order(order_set))
    with mock.patch.object(partition, "LISTED", 1):
        prover = Prover(order_set, rulebook.rules.values())
        for rule in rulebook.rules.values():
            proof = prover.decide(rule)
            given_up = proof.reasons == (TURNS,) or any(map(MANY.search, proof.reasons))
            assert given_up or proof.result.value == outcome(rule, orders)


MANY = re.compile("has too many values to try each")


@pytest.mark.slow
@most(60)
@given(sets_and_rules())
def test_verdicts_and_nearest_orders_are_those_of_enumeration(drawn):
    check(drawn)


@pytest.mark.deep
@settings(max_examples=2_500)
@given(sets_and_rules(most=4))
def test_on_thousands_of_sets(drawn):
    check(drawn)
