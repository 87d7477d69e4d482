"""A built rulebook as plain data in two parts, to be kept until it is needed again.

The conditions are what every check asks; the words are parsed where something of them is asked for.
Equal conditions stand once. Never a file, and never how a rulebook is built.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, NamedTuple

from orderlint.language.tree import And, Not, Or, Tree
from orderlint.rulebook.plain_data import plain
from orderlint.rulebook.rule import CodeRule, Instance, Rule, Rulebook

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.rulebook.plain_data import Plain

_NO_WORDS = frozenset(
    {"id", "family", "level", "harm", "covers", "found_by", "instances", "skipped", "examples"}
)
"""The fields of a rule that are no words; its examples stand in the rule files alone."""


class Parts(NamedTuple):
    """The two parts of a rulebook, each as plain data."""

    conditions: Plain
    words: Plain


def parts_of(book: Rulebook) -> Parts:
    """The parts of a rulebook under the built-in policy. Raises TypeError for what is not plain."""
    table = _SharedParts()
    rules = [_without_words(rule, table) for rule in book.rules.values()]
    conditions = {
        "policy": book.policy,
        "outflow": book.outflow,
        "trees": table.trees.rows,
        "paths": table.paths.rows,
        "rules": rules,
    }
    words = {
        "rules": {name: _words(rule) for name, rule in book.rules.items()},
        "constants": table.constants.rows,
        "cases": table.cases.rows,
        "values": plain(book.values),
        "derived": plain(book.derived),
        "families": plain(book.families),
    }
    return Parts(conditions, words)


class _Shared:
    """Plain data of which equal ones stand once, each by its number."""

    def __init__(self) -> None:
        self.rows: list[Plain] = []
        self._numbers: dict[str, int] = {}

    def number(self, row: Plain) -> int:
        """The number of a row, which is after those of the rows that it names."""
        number = self._numbers.setdefault(json.dumps(row), len(self.rows))
        if number == len(self.rows):
            self.rows.append(row)
        return number


class _SharedParts:
    """What instances share: conditions, paths, the policy's constants.

    A case is the numbers of the constants that some conditions may name. INVARIANT: trees are told
    apart by their rows, which name their kinds: as tuples, an `And` equals an `Or` of the same.
    """

    def __init__(self) -> None:
        self.trees, self.paths, self.constants, self.cases = (_Shared() for _ in range(4))
        self._case_numbers: dict[int, int] = {}

    def instance(self, instance: Instance) -> Plain:
        """An instance by the numbers of what it shares with others."""
        return [
            instance.it,
            self._tree(instance.condition),
            self.paths.number(list(instance.paths)),
            self._case(instance.scope.policy_values),
            instance.scope.change,
        ]

    def _tree(self, tree: Tree) -> int:
        match tree:
            case Not(item):
                return self.trees.number(["Not", self._tree(item)])
            case And(items) | Or(items):
                return self.trees.number([type(tree).__name__, *map(self._tree, items)])
            case _:
                return self.trees.number(plain(tree))

    def _case(self, constants: Mapping[str, object]) -> int:
        if id(constants) not in self._case_numbers:
            rows = ([name, plain(constant)] for name, constant in constants.items())
            self._case_numbers[id(constants)] = self.cases.number(
                [*map(self.constants.number, rows)]
            )
        return self._case_numbers[id(constants)]


def _without_words(rule: Rule, table: _SharedParts) -> Plain:
    """A rule but for its words: the kind, five fields, and those that only its kind has."""
    row: list[Plain] = [type(rule).__name__, rule.id, rule.family]
    row += [rule.level.value, rule.harm.value, sorted(rule.covers)]
    if isinstance(rule, CodeRule):
        return [*row, rule.found_by]
    instances = [table.instance(instance) for instance in rule.instances]
    return [*row, instances, [plain(item) for item in rule.skipped]]


def _words(rule: Rule) -> Plain:
    names = (name for name in rule.__dataclass_fields__ if name not in _NO_WORDS)
    return {name: plain(getattr(rule, name)) for name in names}
