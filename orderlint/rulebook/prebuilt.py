"""A built rulebook as plain data in two parts, and the rulebook that they make again.

The conditions are what every check asks; the words are read where something of them is asked for.
Equal conditions stand once. Never a file, and never how a rulebook is built.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple, TypeVar, cast

from orderlint.fields import field_table
from orderlint.finding import Harm, Level
from orderlint.language.tree import And, Not, Or
from orderlint.rulebook.plain_data import from_plain, plain
from orderlint.rulebook.rule import ChangeRule, CodeRule, Instance, OrderRule, Rulebook

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from typing import Any

    from orderlint.language.tree import Tree
    from orderlint.language.types import Scope
    from orderlint.reading.node import Section
    from orderlint.rulebook.plain_data import Plain
    from orderlint.rulebook.rule import Rule

T = TypeVar("T")
_KINDS: Mapping[str, type[Rule]] = {
    kind.__name__: kind for kind in (CodeRule, OrderRule, ChangeRule)
}
_LEVELS = {level.value: level for level in Level}
_HARMS = {harm.value: harm for harm in Harm}
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


class Later(Mapping[str, T]):
    """A mapping that is made when it is first looked into."""

    __slots__ = ("_made", "_make")

    def __init__(self, make: Callable[[], Mapping[str, T]]) -> None:
        self._make = make
        self._made: Mapping[str, T] | None = None

    def _whole(self) -> Mapping[str, T]:
        if self._made is None:
            self._made = self._make()
        return self._made

    def __getitem__(self, key: str) -> T:
        return self._whole()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._whole())

    def __len__(self) -> int:
        return len(self._whole())

    def __reduce__(self) -> tuple[Any, ...]:
        return dict, (dict(self),)


class ScopeLater:
    """A scope that is made when a name is first looked up in it, which only words do."""

    __slots__ = ("_made", "_make")

    def __init__(self, make: Callable[[], Scope]) -> None:
        self._make = make
        self._made: Scope | None = None

    def whole(self) -> Scope:
        """The scope itself."""
        if self._made is None:
            self._made = self._make()
        return self._made

    def __getattr__(self, name: str) -> Any:
        return getattr(self.whole(), name)

    def __eq__(self, other: object) -> bool:
        return self.whole() == (other.whole() if isinstance(other, ScopeLater) else other)

    def __hash__(self) -> int:  # as of a scope, which has mappings and raises TypeError
        return hash(self.whole())

    def __reduce__(self) -> tuple[Any, ...]:
        return _itself, (self.whole(),)


def _itself(scope: Scope) -> Scope:
    return scope


class Prebuilt:
    """The rulebook of two parts, for some families of rules.

    `words` gives the second part, and is called once, when something of it is first asked for.
    `examples` gives the examples of a rule; without it no rule has any.
    """

    def __init__(
        self, words: Callable[[], Plain], examples: Callable[[Rule], Section | None] | None = None
    ) -> None:
        self._words = functools.cache(words)
        self._examples = examples
        self._derived = self._later("derived")
        self._cases: dict[int, Mapping[str, Any]] = {}
        self._trees: list[Tree] = []
        self._paths: list[tuple[str, ...]] = []

    def rulebook(self, conditions: Plain, without: Iterable[str] = ()) -> Rulebook:
        """The rulebook but for the families `without`, whose rules no other then covers.

        Raises LookupError, TypeError or ValueError where the data is of no rulebook.
        """
        left_out = set(without)
        self._trees = _trees_of(conditions["trees"])
        self._paths = [tuple(paths) for paths in conditions["paths"]]
        rows = {row[1]: row for row in conditions["rules"] if row[2] not in left_out}
        families = self._later("families")
        return Rulebook(
            {name: self._rule(row, rows) for name, row in rows.items()},
            conditions["policy"],
            conditions["outflow"],
            values=self._later("values"),
            derived=self._derived,
            families=Later(lambda: _but_for(left_out, families)),
        )

    def _later(self, *keys: str | int) -> Mapping[str, Any]:
        """What stands in the words under one key after another."""

        def make() -> Mapping[str, Any]:
            found = self._words()
            for key in keys:
                found = found[key]
            made: Mapping[str, Any] = from_plain(found)
            return made

        return Later(make)

    def _rule(self, row: Sequence[Any], rules: Mapping[str, object]) -> Rule:
        kind, name, family, level, harm, covers, *of_kind = row
        rule = object.__new__(_KINDS[kind])
        put = functools.partial(object.__setattr__, rule)
        put("_read", self._fields_of)
        put("id", name)
        put("family", family)
        put("level", _LEVELS[level])
        put("harm", _HARMS[harm])
        put("covers", frozenset(covers).intersection(rules))
        if kind == CodeRule.__name__:
            (found_by,) = of_kind
            put("found_by", found_by)
        else:
            instances, skipped = of_kind
            put("instances", self._instances(name, instances))
            put("skipped", tuple(map(from_plain, skipped)))
        if self._examples is None:
            put("examples", None)
        return rule

    def _instances(self, rule: str, rows: Sequence[Any]) -> tuple[Instance, ...]:
        trees, named = self._trees, self._paths
        return tuple(
            [
                Instance(it, trees[tree], named[paths], self._scope_later(rule, it, case, change))
                for it, tree, paths, case, change in rows
            ]
        )

    def _scope_later(self, *of: Any) -> Scope:
        later: Any = ScopeLater(functools.partial(self._scope, *of))
        return cast("Scope", later)

    def _scope(self, rule: str, it: str | None, case: int, change: bool) -> Scope:
        from orderlint.language.types import Scope  # noqa: PLC0415 - cold start

        limits = self._later("rules", rule, "limits")
        return Scope(field_table(), self._case(case), limits, self._derived, it, change)

    def _case(self, number: int) -> Mapping[str, Any]:
        if number not in self._cases:
            self._cases[number] = Later(lambda: self._constants(number))
        return self._cases[number]

    def _constants(self, case: int) -> Mapping[str, Any]:
        words = self._words()
        named = (words["constants"][number] for number in words["cases"][case])
        return {name: from_plain(constant) for name, constant in named}

    def _fields_of(self, rule: Rule, name: str) -> Mapping[str, object]:
        """The fields that a rule was made without; its examples apart from its words."""
        if name == "examples" and self._examples is not None:
            return {name: self._examples(rule)}
        words: Mapping[str, object] = from_plain(self._words()["rules"][rule.id])
        return words


def _but_for(left_out: set[str], families: Mapping[str, str]) -> Mapping[str, str]:
    return {name: title for name, title in families.items() if name not in left_out}


def _trees_of(rows: Iterable[Sequence[Any]]) -> list[Tree]:
    made: list[Tree] = []
    for row in rows:
        kind = row[0]
        if kind == "Or":
            made.append(Or(tuple([made[number] for number in row[1:]])))
        elif kind == "And":
            made.append(And(tuple([made[number] for number in row[1:]])))
        elif kind == "Not":
            made.append(Not(made[row[1]]))
        else:
            made.append(from_plain(row))
    return made
