"""A fault put into any one part of a proof is seen: by the other way, or by enumeration."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawn_sets import HERE, rule_of, set_of
from order_sets import example

from orderlint.finding import Fault
from orderlint.language import solve as solving
from orderlint.language.tree import Compare, Given, Not, Term
from orderlint.order import Leaf, State
from orderlint.order_set.model import Slot
from orderlint.proof import (
    Disagreement,
    Limits,
    Prover,
    Result,
    counterexample_of,
    nearest,
    prover_of,
    search,
)
from orderlint.proof import corners as corners_
from orderlint.rulebook.load import at_hand_for_sets


def known(path, value):
    return Leaf(path, State.KNOWN, value, "mmHg", str(value))


def slot(path, *values, preset=0):
    return Slot(path, tuple(known(path, value) for value in values), preset)


LOWER = slot("pause.lower", 1, 2, 3, 4)
UPPER = slot("pause.upper", 5, 6, 7, 9)
BELOW = Compare((Term(1, ("pause.lower",)), Term(-1, ("pause.upper",))), "<", 0)
ROOMY = Compare((Term(1, ("pause.lower",)), Term(-1, ("pause.upper",))), "<=", -3)


def prover(rule, *slots, limits=LIMITS):
    return Prover(set_of(slots or (LOWER, UPPER)), [rule], limits)


def test_without_a_fault():
    assert prover(below := rule_of("below", BELOW)).decide(below).result is Result.PROVED
    roomy = rule_of("roomy", ROOMY)
    proving = prover(roomy)
    found = counterexample_of(proving, roomy, proving.decide(roomy))
    assert [pick.leaf.value for pick in found.picks] == [3, 5]


def flipped(tree):
    pair = solving.solve(tree)
    return solving.Pair(pair.false, pair.true)


def test_a_sign_flipped_in_the_solver(monkeypatch):
    monkeypatch.setattr(search, "solve", flipped)
    rule = rule_of("below", BELOW)
    with pytest.raises(Disagreement):
        prover(rule).decide(rule)


def test_a_solver_that_never_finds_anything(monkeypatch):
    """The corners find the order all the same; the walk from it meets the contradiction."""
    monkeypatch.setattr(nearest, "wanted", lambda *_: solving.z3.BoolVal(False))
    rule = rule_of("roomy", ROOMY)
    proving = prover(rule)
    proof = proving.decide(rule)
    assert proof.result is Result.BROKEN
    with pytest.raises(Disagreement):
        counterexample_of(proving, rule, proof)


def test_a_field_pinned_to_the_wrong_end(monkeypatch):
    """Corners at the wrong end call a broken rule kept, and the solver says otherwise."""
    pull = corners_._pull

    def reversed_pull(*arguments):
        return {"low": "high", "high": "low", "all": "all"}[pull(*arguments)]

    monkeypatch.setattr(corners_, "_pull", reversed_pull)
    rule = rule_of("roomy", ROOMY)
    with pytest.raises(Disagreement):
        prover(rule).decide(rule)


def test_clauses_that_skip_one(monkeypatch):
    real = corners_.clauses
    monkeypatch.setattr(corners_, "clauses", lambda tree, most: real(tree, most)[1:])
    rule = rule_of("roomy", ROOMY)
    with pytest.raises(Disagreement):
        prover(rule).decide(rule)


def test_no_effort_is_no_proof():
    """z3 without any effort answers nothing; the corners alone prove nothing."""
    rule = rule_of("below", BELOW)
    proof = prover(rule, limits=Limits(effort=1)).decide(rule)
    assert proof.result is Result.NOT_PROVED
    assert proof.reasons


def test_too_many_corners_are_no_proof():
    rule = rule_of("below", BELOW)
    proof = prover(rule, limits=Limits(corners=0)).decide(rule)
    assert proof.result is Result.NOT_PROVED


def test_a_set_with_open_faults_proves_nothing():
    rule = rule_of("below", BELOW)
    whole = set_of([LOWER, UPPER])
    object.__setattr__(whole, "unsettled", (Fault("set-entry-not-understood", "", "", HERE, {}),))
    assert Prover(whole, [rule]).decide(rule).result is Result.NOT_PROVED


def test_facts_of_signing_are_judged_at_signing():
    signed = replace(LOWER, signed=True)
    rule = rule_of("below", BELOW)
    proof = prover(rule, signed, UPPER).decide(rule)
    assert proof.result is Result.AT_SIGNING
    assert proof.at_signing == ("pause.lower",)
    checked = rule_of("checked", Not(Given(("checked_at",))))
    assert prover(checked).decide(checked).result is Result.AT_SIGNING


def test_what_is_missing_is_named():
    empty = Slot("pause.lower", (known("pause.lower", 1), Leaf("pause.lower")), 0)
    rule = rule_of("below", BELOW)
    proof = prover(rule, empty, UPPER).decide(rule)
    assert proof.result is Result.UNDETERMINED
    assert proof.missing == ("pause.lower",)


def results(name):
    rulebook = at_hand_for_sets()
    proving = prover_of(example(name), rulebook)
    return {rule.id: proving.decide(rule).result for rule in proving.rules}


def test_the_sound_example_breaks_nothing():
    """The set is written to be sound: an outcome of our own."""
    heavy = {Result.BROKEN, Result.NOT_PROVED, Result.UNDETERMINED}
    assert not heavy & set(results("set-irrigation-adult.yaml").values())


def test_the_example_of_corners_breaks_six():
    found = results("set-irrigation-corners.yaml")
    assert {rule for rule, result in found.items() if result is Result.BROKEN} == {
        "treat-above-over-upper-pause",
        "treating-window-narrow",
        "upper-pause-in-normal-range",
        "drain-above-treat-above",
        "drain-margin-small",
        "notify-icp-over-upper-pause",
    }
