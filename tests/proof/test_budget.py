"""One budget of effort for all questions of a run: what is not reached is said, and no proof."""

from __future__ import annotations

import pytest
from order_sets import example, order_set, some_rules

from orderlint.language import budget
from orderlint.language.budget import SPENT, Budget
from orderlint.proof.prover import Decision, Prover, limits_of
from orderlint.proof.set_difference import difference_of
from orderlint.rulebook.load import load

CORNERS = "set-irrigation-corners.yaml"
LITTLE = "treat_above: {choose: [8 mmHg, 9 mmHg]}"


@pytest.fixture
def thousands(monkeypatch):
    """Effort is named in thousands of steps, so that little of it is spent soon."""
    monkeypatch.setattr(budget, "MILLION", 1_000)


def proofs(effort):
    prover = Prover(example(CORNERS), load("order-set").order_rules, limits_of(effort))
    return [prover.decide(rule) for rule in load("order-set").order_rules], prover


@pytest.mark.usefixtures("thousands")
def test_what_was_not_reached_is_said_and_is_no_proof():
    some, prover = proofs(60)
    assert prover.limits.is_spent or prover.limits.budget.left < 60_000
    given_up = [proof for proof in some if SPENT in proof.reasons]
    assert given_up
    assert {proof.result for proof in given_up} == {Decision.NOT_PROVED}
    assert any(proof.result is Decision.PROVED for proof in some)
    assert [proof.reasons.count(SPENT) for proof in given_up] == [1] * len(given_up)


@pytest.mark.usefixtures("thousands")
def test_no_result_is_another_with_less_effort():
    whole, _ = proofs(100_000)
    some, _ = proofs(60)
    for proof, full in zip(some, whole, strict=True):
        assert proof.result in {full.result, Decision.NOT_PROVED}


@pytest.mark.slow
@pytest.mark.usefixtures("thousands")
def test_a_comparison_without_effort_settles_nothing():
    little, limits = order_set(LITTLE), limits_of(0)
    found = difference_of(little, little, some_rules(30), limits)
    assert (found.relation, found.open) == ("open", (f"gone: {SPENT}", f"new: {SPENT}"))


def test_a_question_takes_what_it_used():
    limits = limits_of(1)
    found = difference_of(order_set(LITTLE), order_set(LITTLE), some_rules(30), limits)
    assert found.relation == "equal"
    assert 0 < Budget(1).left - limits.budget.left < budget.MILLION
