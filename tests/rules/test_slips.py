"""A slip in the generated function is noticed by the examples of each rule that it can reach."""

from __future__ import annotations

import re
from collections import defaultdict

import pytest
from rule_examples import NAMES, conditions_for, examples
from walkers import by_evaluate, outcomes_of

from orderlint.language.to_python import python
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import CodeRule

SLIPS = {
    "less, where it is at most": (r" <= ", " < "),
    "at most, where it is less": (r" < ", " <= "),
    "unknown as kept": (r"\(broken if (.*) else unknown\)", r"(broken if \1 else [])"),
    "a condition left out": (r"\.append\(\d+\)", ".count(0)"),
    "flags ignored": (r"\n if l\d+\.flags and", "\n if False and"),
    "absent for given": ("is not absent", "is absent"),
    "unknown for known": (" is not None", " is None"),
}
RULES = [name for name in NAMES if not isinstance(load("all").rules[name], CodeRule)]

ALSO = ["zero-interval-too-long", "pause-limits-reversed", "trailing-zero"]
"""A rule with at most, one with less and one that looks for a flag, whichever the others are."""


def is_noticed(slip: str, rule: str) -> bool | None:
    """Whether some example of a rule notices a slip; None where the function has no place for it.

    A rule of which no example is unknown has none for unknown as kept.
    """
    asked = defaultdict(list)
    for example in examples(rule):
        asked[conditions_for(example)].append(example)
    outcomes = {example.outcome for cases in asked.values() for example in cases}
    if slip == "unknown as kept" and "unknown" not in outcomes:
        return None
    noticed = None
    for trees, cases in asked.items():
        text, constants = python(trees)
        slipped = re.sub(*SLIPS[slip], text)
        if slipped != text:
            room = dict(constants)
            exec(slipped, room)
            noticed = noticed or any(differs(room["check"], trees, case) for case in cases)
    return noticed


def differs(check, trees, example) -> bool:
    """Whether a function with a slip says something else of an example's order, or nothing."""
    leaves = example.leaves()
    try:
        found = outcomes_of(check, len(trees), leaves)
    except TypeError:  # it reckoned with what is unknown
        return True
    return found != [by_evaluate(tree, leaves) for tree in trees]


def all_are_noticed(rules: list[str]) -> None:
    found = {(slip, rule): is_noticed(slip, rule) for slip in SLIPS for rule in rules}
    assert [key for key, noticed in found.items() if noticed is False] == []
    assert {slip for (slip, _), noticed in found.items() if noticed} == {*SLIPS}


def test_a_slip_is_noticed():
    all_are_noticed([*RULES[:: len(RULES) // 12], *ALSO])


@pytest.mark.deep
def test_a_slip_is_noticed_in_every_rule():
    all_are_noticed(RULES)
