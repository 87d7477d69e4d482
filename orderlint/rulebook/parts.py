"""A built rulebook as plain data in two parts, to be kept until it is needed again.

The conditions are what every check asks; the words are read where something of them is asked for.
Equal conditions stand once. Never a file, and never how a rulebook is built.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.language.tree import And, Not, Or
from orderlint.rulebook.plain_data import plain
from orderlint.rulebook.rule import CodeRule

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.tree import Tree
    from orderlint.rulebook.plain_data import Plain
    from orderlint.rulebook.rule import Instance, Rule, Rulebook

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
    table = _Table()
    rules = [_without_words(rule, table) for rule in book.rules.values()]
    conditions = {
        "policy": book.policy,
        "outflow": book.outflow,
        "trees": table.trees,
        "paths": list(map(list, table.paths)),
        "rules": rules,
    }
    words = {
        "rules": {name: _words(rule) for name, rule in book.rules.items()},
        "constants": table.constants,
        "cases": table.cases,
        "values": plain(book.values),
        "derived": plain(book.derived),
        "families": plain(book.families),
    }
    return Parts(conditions, words)


class _Table:
    """What instances share, each by its number: conditions, paths and the policy's constants.

    A case is the numbers of the constants that some conditions may name.
    """

    def __init__(self) -> None:
        self.trees: list[Plain] = []
        self.paths: dict[tuple[str, ...], int] = {}
        self.constants: list[Plain] = []
        self.cases: list[list[int]] = []
        self._tree_numbers: dict[Tree, int] = {}
        self._constant_numbers: dict[tuple[str, object], int] = {}
        self._case_numbers: dict[int, int] = {}

    def instance(self, instance: Instance) -> Plain:
        """An instance by the numbers of what it shares with others."""
        return [
            instance.it,
            self._tree(instance.condition),
            self.paths.setdefault(instance.paths, len(self.paths)),
            self._case(instance.scope.policy_values),
            instance.scope.change,
        ]

    def _tree(self, tree: Tree) -> int:
        """The number of a tree, which is after those of its parts."""
        if tree not in self._tree_numbers:
            row = self._row(tree)
            self._tree_numbers[tree] = len(self.trees)
            self.trees.append(row)
        return self._tree_numbers[tree]

    def _row(self, tree: Tree) -> Plain:
        match tree:
            case Not(item):
                return ["Not", self._tree(item)]
            case And(items) | Or(items):
                return [type(tree).__name__, *map(self._tree, items)]
            case _:
                return plain(tree)

    def _case(self, constants: Mapping[str, object]) -> int:
        if id(constants) not in self._case_numbers:
            self._case_numbers[id(constants)] = len(self.cases)
            self.cases.append([self._constant(*named) for named in constants.items()])
        return self._case_numbers[id(constants)]

    def _constant(self, name: str, constant: object) -> int:
        if (name, constant) not in self._constant_numbers:
            self._constant_numbers[name, constant] = len(self.constants)
            self.constants.append([name, plain(constant)])
        return self._constant_numbers[name, constant]


def _without_words(rule: Rule, table: _Table) -> Plain:
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
