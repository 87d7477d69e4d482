"""What is heard of a rule that an order breaks: first of all where it is broken."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawn_sets import rule_of, rulebook_of

from orderlint.assessment import assessment_of, definedness_rule, reported_for
from orderlint.finding import Finding, Level, NamedSetting, Place, Suppressed
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Compare, Not, Term
from orderlint.order import Leaf, State

HERE = Place("set.yaml", 1, 1)
BOOK = rulebook_of(replace(rule_of("wide"), covers=frozenset({"narrow"})), rule_of("narrow"))


def found(rule, path, *also):
    words = ("", "", "", "", "", "prescriber", "")
    others = tuple(NamedSetting(each, each, "", HERE) for each in also)
    return Finding(rule, "made up", Level.CLARIFY, path, path, *words, HERE, others)


def hidden(rule, path):
    return Suppressed(found(rule, path), "invented", "a committee", "2030", HERE)


@pytest.mark.parametrize(
    ("findings", "suppressed", "heard"),
    [
        ([("narrow", "pause.upper"), ("wide", "pause.upper")], [], ("narrow", "pause.upper")),
        ([("narrow", "pause.lower"), ("wide", "pause.upper")], [], ("wide", "pause.upper")),
        ([("narrow", "treat_above", "pause.upper")], [], ("narrow", "treat_above")),
        ([("narrow", "pause.lower")], ["pause.upper"], ("narrow", "pause.upper")),
        ([("wide", "pause.lower")], ["pause.upper"], ("narrow", "pause.upper")),
        ([("narrow", "pause.lower")], [], ("narrow", "pause.lower")),
        ([("wide", "pause.lower")], [], ("wide", "pause.lower")),
        ([("narrow", "pause")], ["pause.lower"], ("narrow", "pause")),
    ],
)
def test_what_speaks_for_a_broken_rule(findings, suppressed, heard):
    paths = ("pause.upper", "display_unit")
    said = reported_for(
        "narrow",
        paths,
        assessment_of(
            [found(*each) for each in findings],
            (),
            (),
            tuple(hidden("narrow", path) for path in suppressed),
            1,
        ),
        BOOK,
    )
    finding = said.finding if isinstance(said, Suppressed) else said
    assert (finding.rule, finding.path) == heard
    assert isinstance(said, Suppressed) == (heard[1] in suppressed)


def test_that_nothing_speaks_for_a_broken_rule_is_a_fault_of_ours():
    other = assessment_of([found("other", "pause.upper")], (), (), (), 1)
    with pytest.raises(RuntimeError, match="narrow"):
        reported_for("narrow", ("pause.upper",), other, OTHERS)


OTHERS = rulebook_of(rule_of("other"), rule_of("narrow"))


@pytest.mark.parametrize("tree", [Compare((Term(1, ("treat_above",)),), "<", 5)])
@pytest.mark.parametrize(("value", "is_known"), [(4, True), (6, True), (None, None)])
def test_that_a_rule_is_known_is_never_false(tree, value, is_known):
    state = State.UNREADABLE if value is None else State.KNOWN
    leaves = {"treat_above": Leaf("treat_above", state, value)}
    for rule in (rule_of("a", tree), rule_of("b", Not(tree)), rule_of("c", tree, when=tree)):
        (instance,) = definedness_rule(rule).instances
        assert evaluate(instance.condition, leaves) is is_known
