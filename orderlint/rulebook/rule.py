"""A rule, its instances and its sources, as every later room holds them.

Frozen data only. Never a file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, ClassVar, Literal, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from orderlint.finding import Fault, Level, Place
    from orderlint.language.surface import Surface
    from orderlint.language.tree import Member, Tree
    from orderlint.language.types import Quantity, Scope
    from orderlint.reading.node import Section
    from orderlint.rulebook.policy.builtin import PolicyValue
    from orderlint.rulebook.source import Source


POLICY_FAMILY = "local"
"""The family of the rules that a site policy adds."""


_NONE: Mapping[str, Any] = MappingProxyType({})


class Instance(NamedTuple):
    """A rule's condition for one path of its `over:` and one key of the policy's table.

    `condition` is true where the rule is kept, false where it is broken, unknown where it could
    not be checked. `paths` are the leaves it reads, those of `require` first.
    """

    it: str | None
    condition: Tree
    paths: tuple[str, ...]
    scope: Scope


class Skipped(NamedTuple):
    """Why a rule, or one key of its table, is not asked.

    Where `applies_if` is given, it is so only of the orders on which that holds.
    """

    reason: str
    applies_if: Member | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleBase:
    """What every rule has.

    `family` is the name of its file. `place` is where its record begins. `covers` are the ids of
    the rules that are not shown beside it, directly or through others. `examples` is the record's
    own section; it is None where the rulebook is read without examples.
    """

    id: str
    family: str
    level: Level
    says: str
    expected: str
    why: str
    ask: str
    ask_whom: str
    sources: tuple[Source, ...]
    place: Place
    covers: frozenset[str] = frozenset()
    examples: Section | None = None

    @property
    def inactive(self) -> tuple[str, ...]:
        """Why the rule, or some key of its table, is not asked, in words."""
        return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeRule(RuleBase):
    """A rule that code finds. `found_by` names the part of the tool that does, one of FOUND_BY."""

    found_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionBase(RuleBase):
    """What every rule has that is found by evaluating its conditions, the `instances`.

    `skipped` holds the reasons why it, or some key of its table, is not asked. `main_path` is the
    setting that a finding names first. `figures` are computed for its words. `over`, `when`,
    `require` and `limits` are the condition as written, for those who read the rulebook; where
    `{it}` is filled in, they are those of the last path.
    """

    found_by: ClassVar[Literal["condition"]] = "condition"
    instances: tuple[Instance, ...]
    require: Surface
    when: Surface | None = None
    over: tuple[str, ...] = ()
    limits: Mapping[str, Quantity] = field(default_factory=dict)
    figures: Mapping[str, Surface] = field(default_factory=dict)
    main_path: str | None = None
    skipped: tuple[Skipped, ...] = ()

    @property
    def inactive(self) -> tuple[str, ...]:
        """Why the rule, or some key of its table, is not asked, in words."""
        return tuple(dict.fromkeys(item.reason for item in self.skipped))


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRule(ConditionBase):
    """A rule whose conditions read one order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRule(ConditionBase):
    """A rule whose conditions read an earlier order as well, under `before.`."""


ConditionRule: TypeAlias = OrderRule | ChangeRule
Rule: TypeAlias = ConditionRule | CodeRule


class Suppression(NamedTuple):
    """That a policy silences a rule at one setting or section; with no `path`, wherever it breaks.

    `until` is the instant at which it runs out, in milliseconds since 1970 UTC; `until_text` as
    written. `number` counts from 1 in the file.
    """

    number: int
    rule: str
    path: str | None
    reason: str
    approved_by: str
    until: int
    until_text: str
    place: Place

    def matches(self, rule: str, paths: tuple[str, ...]) -> bool:
        """Whether it is of this rule and, if it names a setting or section, of one of `paths`."""
        named = self.path
        at_path = named is None or any(f"{path}.".startswith(f"{named}.") for path in paths)
        return self.rule == rule and at_path


class PolicyFault(NamedTuple):
    """Something to say of the policy for every order, or for those for which `applies_if` holds."""

    fault: Fault
    applies_if: Tree | None = None


class Rulebook(NamedTuple):
    """Every rule by id, in the order of the files, with the title of the policy they rest on.

    `values` are the policy's by name, `derived` the facts named once, `families` the title of each
    file of rules. Of a site policy, `suppressions` are those that may be applied, `faults` is what
    is wrong with it, and `weaker` are the values with which more orders pass than without it.
    """

    rules: Mapping[str, Rule]
    policy: str
    outflow: str | None
    values: Mapping[str, PolicyValue] = _NONE
    suppressions: tuple[Suppression, ...] = ()
    faults: tuple[Fault, ...] = ()
    weaker: tuple[PolicyFault, ...] = ()
    derived: Mapping[str, Surface] = _NONE
    families: Mapping[str, str] = _NONE

    @property
    def order_rules(self) -> tuple[OrderRule, ...]:
        """The rules with conditions on one order, in the order of the files."""
        return tuple(rule for rule in self.rules.values() if isinstance(rule, OrderRule))

    @property
    def change_rules(self) -> tuple[ChangeRule, ...]:
        """The rules with conditions on a change between two orders, in the order of the files."""
        return tuple(rule for rule in self.rules.values() if isinstance(rule, ChangeRule))
