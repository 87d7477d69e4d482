"""A rule, its instances and its sources, as every later room holds them.

Frozen data only. Never a file.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from orderlint.finding import Fault, Level, Place
    from orderlint.language.surface import Surface
    from orderlint.language.tree import Member, Names, Tree
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
    applies_if: Member | Names | None = None


class Rule(NamedTuple):
    """One entry of the rulebook.

    `found_by` names the room that finds it where it has no condition. `skipped` holds reasons why
    the rule, or some key of it, is not asked. `covers` are the rules that it silences beside it,
    straight or through others. `examples` is the record's own section, read by tests and pages.
    A rule on a change between two orders has its conditions in `changes` and no `instances`.
    `stands_last` is whether its finding stands after the others of its level.
    `over`, `when`, `require` and `limits` are the condition as written, for those who read it; for
    the last path, where `{it}` is filled in it.
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
    found_by: str | None = None
    main_path: str | None = None
    covers: frozenset[str] = frozenset()
    figures: Mapping[str, Surface] | None = None
    instances: tuple[Instance, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    examples: Section | None = None
    over: tuple[str, ...] = ()
    when: Surface | None = None
    require: Surface | None = None
    limits: Mapping[str, Quantity] = _NONE
    changes: tuple[Instance, ...] = ()
    stands_last: bool = False

    @property
    def conditions(self) -> tuple[Instance, ...]:
        """The rule's conditions, whether on one order or on a change between two."""
        return self.instances or self.changes

    @property
    def inactive(self) -> tuple[str, ...]:
        """Why the rule, or some key of it, is not asked, in words."""
        return tuple(dict.fromkeys(item.reason for item in self.skipped))


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
