"""A cover in a policy's own rule is one that some order needs, as far as that can be decided."""

from __future__ import annotations

import pytest
from policy_files import RULE, local

from orderlint.language.budget import Budget
from orderlint.rulebook.rule import POLICY_FAMILY
from orderlint.rulebook.rules_together import check_covers


def own(name: str, require: str, **keys: str) -> str:
    """A rule of a policy; each of `keys` is a line of its record."""
    lines = "".join(f"    {key}: {value}\n" for key, value in keys.items())
    body = RULE.removeprefix("rules:\n").replace("rule: demo", f"rule: {name}")
    return f"{body.replace('pause.upper - pause.lower >= wide', require)}{lines}"


def covers(*rules: str, budget: Budget | None = None) -> dict[tuple[str, str], str]:
    """Whether some order needs each cover of a policy's rules and over them."""
    rulebook = local("rules:\n" + "".join(rules))
    own_rules = [rule for rule in rulebook.rules.values() if rule.family == POLICY_FAMILY]
    answers = [
        each for rule in own_rules for each in check_covers(rule, rulebook, budget or Budget())
    ]
    assert len({each[:2] for each in answers}) == len(answers)
    return {(each.upper, each.lower): each.needed for each in answers}


LOW, HIGH = "pause.upper >= wide", "pause.upper <= wide"


@pytest.mark.parametrize(
    ("key", "other", "pair"),
    [
        ("covers", LOW, ("one", "two")),  # broken above 8 mmHg, and below it
        ("covered_by", LOW, ("two", "one")),
        ("covers", "drainage.height <= wide", ("one", "two")),  # no setting in common
    ],
)
def test_no_order_needs_a_cover_of_what_is_never_broken_with_it(key, other, pair):
    assert covers(own("one", HIGH, **{key: "[two]"}), own("two", other)) == {pair: "no"}


def test_some_order_needs_a_cover_of_what_can_be_broken_with_it():
    rules = own("one", HIGH, covers="[two]"), own("two", "pause.upper < wide")
    assert covers(*rules) == {("one", "two"): "yes"}


@pytest.mark.parametrize(("sign", "needed"), [(">=", "no"), ("<=", "yes")])
def test_a_built_in_rule_over_an_own_one_is_asked_too(sign, needed):
    built_in = "zero-interval-too-long"
    often = own("one", f"monitoring.zero_every {sign} wide", covered_by=f"[{built_in}]")
    assert covers(often.replace("8 mmHg", "1 h")) == {(built_in, "one"): needed}


def test_a_cover_that_only_carries_another_is_needed():
    """`one` and `two` have no setting in common, and `one` and `three` have."""
    rules = (
        own("one", HIGH, covers="[two]"),
        own("two", "drainage.height <= wide", covers="[three]"),
        own("three", "pause.upper + drainage.height <= wide"),
    )
    assert covers(*rules) == {("one", "two"): "yes", ("two", "three"): "yes"}


def test_a_cover_of_a_rule_that_is_not_asked_or_that_code_finds_is_not_decided():
    assert covers(own("one", HIGH, covered_by="[text-number-differs]")) == {}
    silent = own("two", LOW).replace("require:", "assumes: site.outflow == 'pump'\n    require:")
    assert covers(own("one", HIGH, covers="[two]"), silent) == {}


def test_without_an_answer_a_cover_is_open():
    rules = own("one", HIGH, covers="[two]"), own("two", LOW)
    assert covers(*rules, budget=Budget(0)) == {("one", "two"): "open"}
