"""Asks the conditions of rules of one order after another: which are broken, which unknown.

Never a fault that code has found, and never a word.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, TypeVar

from orderlint.broken_rules import Break
from orderlint.finding import Inactive, Unchecked
from orderlint.language.evaluate import evaluate, missing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from orderlint.language.to_python import Check
    from orderlint.language.tree import Member, Names
    from orderlint.order import Leaf
    from orderlint.rulebook.rule import ConditionRule, Rulebook

K = TypeVar("K")
T = TypeVar("T")

WALKED = 50
"""The orders of which conditions are asked one by one, before their function is made.

To make it takes as long as to ask so many orders without it.
"""
_KEPT = 8
"""The objects of each kind of which what is made is kept."""


class Conditions:
    """The conditions of rules, numbered in their order, and what was made of them so far."""

    def __init__(self, rules: Iterable[ConditionRule]) -> None:
        self.rules = tuple(rules)
        self.active = sum(1 for rule in self.rules if rule.instances)
        self._numbered = [(rule, each) for rule in self.rules for each in rule.instances]
        self._breaks: dict[int, Break] = {}
        self._walked = 0
        self._check: Check | None = None
        self._met = tuple(
            dict.fromkeys(x.applies_if for rule in self.rules for x in rule.skipped if x.applies_if)
        )
        self._inactive = functools.lru_cache(maxsize=64)(self._inactive_where)

    def judge(self, leaves: Mapping[str, Leaf]) -> tuple[list[Break], list[int]]:
        """Which are broken, and the numbers of those that cannot be checked."""
        broken, unknown = (self._check or self._next_check())(leaves)
        return [self._breaks.get(n) or self._break(n) for n in broken], unknown

    def _next_check(self) -> Check:
        """The walk for the first orders, and from then on the function."""
        self._walked += 1
        return self.walk if self._walked <= WALKED else self.compiled()

    def compiled(self) -> Check:
        """The function of the conditions, by which all further orders are judged."""
        from orderlint.language.to_python import compiled  # noqa: PLC0415 - cold start

        check = self._check or compiled([each.condition for _, each in self._numbered])
        self._check = check
        return check

    def walk(self, leaves: Mapping[str, Leaf]) -> tuple[list[int], list[int]]:
        """The numbers of the conditions that are false, and that are unknown."""
        broken: list[int] = []
        unknown: list[int] = []
        for number, (_, instance) in enumerate(self._numbered):
            sound = evaluate(instance.condition, leaves)
            if not sound:
                (broken if sound is False else unknown).append(number)
        return broken, unknown

    def _break(self, number: int) -> Break:
        rule, instance = self._numbered[number]
        return self._breaks.setdefault(number, Break(rule, instance.paths, instance))

    def unchecked(
        self, unknown: Iterable[int], leaves: Mapping[str, Leaf]
    ) -> tuple[Unchecked, ...]:
        """The rules that cannot be checked, each with the settings that are missing for it."""
        lacking: dict[str, dict[str, None]] = {}
        levels = {}
        for number in unknown:
            rule, instance = self._numbered[number]
            levels[rule.id] = rule.level
            of_rule = lacking.setdefault(rule.id, {})
            of_rule.update(dict.fromkeys(missing(instance.condition, leaves)))
        return tuple(Unchecked(rule, levels[rule], tuple(of)) for rule, of in lacking.items())

    def inactive(self, leaves: Mapping[str, Leaf]) -> tuple[Inactive, ...]:
        """The rules that are not asked of an order, with the reasons."""
        return self._inactive(tuple([evaluate(each, leaves) is not False for each in self._met]))

    def _inactive_where(self, met: tuple[bool, ...]) -> tuple[Inactive, ...]:
        applies = dict(zip(self._met, met, strict=True))
        return tuple(inactive_rules(self.rules, lambda each: applies[each]))


def inactive_rules(
    rules: Iterable[ConditionRule], applies: Callable[[Member | Names], bool]
) -> Iterator[Inactive]:
    """The rules that are not asked, each with the reasons whose `applies_if` applies."""
    for rule in rules:
        for item in rule.skipped:
            if item.applies_if is None or applies(item.applies_if):
                yield Inactive(rule.id, item.reason)


def kept(make: Callable[[K], T]) -> Callable[[K], T]:
    """The function, which keeps what it makes of each of the last objects; they do not change.

    They are told apart by what they are: to compare all that is in two takes longer than a check.
    """
    last: list[tuple[K, T]] = []

    @functools.wraps(make)
    def made_of(asked: K) -> T:
        for each, made in last:
            if each is asked:
                return made
        made = make(asked)
        last.insert(0, (asked, made))  # the others are read in other threads, and only move on
        del last[_KEPT:]
        return made

    return made_of


@kept
def order_conditions(rulebook: Rulebook) -> Conditions:
    """The conditions on one order."""
    return Conditions(rulebook.order_rules)


@kept
def change_conditions(rulebook: Rulebook) -> Conditions:
    """The conditions on a change between two orders."""
    return Conditions(rulebook.change_rules)
