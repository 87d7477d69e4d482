"""The examples that every built-in rule carries, run by many tests."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from orderlint.rulebook.examples import OUTCOMES, RuleExample, examples_of
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import CodeRule
from orderlint.verification import verify_order

if TYPE_CHECKING:
    from orderlint.language.tree import Tree
    from orderlint.rulebook.rule import Rulebook
    from orderlint.verification import Verified

__all__ = [
    "NAMES",
    "OUTCOMES",
    "RuleExample",
    "conditions_for",
    "examples",
    "rulebook_for",
    "verified",
]

NAMES = tuple(load("all").rules)


@functools.cache
def examples(rule: str) -> tuple[RuleExample, ...]:
    """Every example of one rule of the built-in rulebook."""
    return tuple(examples_of(load("all").rules[rule]))


_read = RuleExample.rulebook
_rulebooks: dict[str, Rulebook] = {}


def rulebook_for(example: RuleExample) -> Rulebook:
    """The rulebook on the policy that a built-in rule's example names; each is loaded once."""
    name = str(example)
    if name not in _rulebooks:
        _rulebooks[name] = _read(example)
    return _rulebooks[name]


_verified: dict[str, Verified] = {}


def verified(example: RuleExample) -> Verified:
    """What is found of the order of a built-in rule's example; each is checked once."""
    name = str(example)
    if name not in _verified:
        _verified[name] = verify_order(example.order, example.at, rulebook_for(example))
    return _verified[name]


def conditions_for(example: RuleExample) -> tuple[Tree, ...]:
    """The conditions of an example's rule on its policy; none where code finds the rule."""
    rule = rulebook_for(example).rules[example.rule]
    instances = () if isinstance(rule, CodeRule) else rule.instances
    return tuple(instance.condition for instance in instances)
