"""The rulebook that two parts of plain data make again, each thing when it is first asked for.

Never a file, and never how a rulebook is built.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Generic, TypeVar, cast

from orderlint.fields import field_table
from orderlint.finding import Harm, Level
from orderlint.language.tree import And, Not, Or, Tree
from orderlint.rulebook.plain_data import from_plain
from orderlint.rulebook.rule import ChangeRule, CodeRule, Instance, OrderRule, Rule, Rulebook

if TYPE_CHECKING:
    from orderlint.language.types import Scope
    from orderlint.reading.node import Section
    from orderlint.rulebook.plain_data import Plain


_KINDS: Mapping[str, type[Rule]] = {
    kind.__name__: kind for kind in (CodeRule, OrderRule, ChangeRule)
}


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
            families=Later(lambda: {n: t for n, t in families.items() if n not in left_out}),
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
        put("level", Level(level))
        put("harm", Harm(harm))
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
        made = []
        for it, tree, paths, case, change in rows:
            scope = ScopeLater(functools.partial(self._scope, rule, it, case, change))
            made.append(Instance(it, self._trees[tree], self._paths[paths], cast("Scope", scope)))
        return tuple(made)

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


T = TypeVar("T")


class _MadeLater(Generic[T]):
    """What is made when it is first asked for."""

    __slots__ = ("_made", "_make")

    def __init__(self, make: Callable[[], T]) -> None:
        self._make = make
        self._made: T | None = None

    def whole(self) -> T:
        """The thing itself."""
        if self._made is None:
            self._made = self._make()
        return self._made


class Later(_MadeLater[Mapping[str, T]], Mapping[str, T]):
    """A mapping that is made when it is first looked into."""

    __slots__ = ()

    def __getitem__(self, key: str) -> T:
        return self.whole()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.whole())

    def __len__(self) -> int:
        return len(self.whole())

    def __reduce__(self) -> tuple[Any, ...]:
        return dict, (dict(self),)


class ScopeLater(_MadeLater["Scope"]):
    """A scope that is made when a name is first looked up in it, which only words do."""

    __slots__ = ()

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
