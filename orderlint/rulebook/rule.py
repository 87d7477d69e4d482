"""The rulebook as frozen data: rules of three kinds, their conditions, a policy's suppressions."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar, Literal, NamedTuple, TypeAlias

from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Fault, Harm, Level, Place
from orderlint.language.tree import And, Member, Names, Not, Or, Tree, atoms

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.language.surface import Surface
    from orderlint.language.types import Quantity, Scope
    from orderlint.reading.node import Section
    from orderlint.rulebook.citation import Source
    from orderlint.rulebook.policy.policy_values import PolicyValue
    from orderlint.rulebook.standing_orders import StandingOrders


POLICY_FAMILY = "local"
"""The family of the rules that a site policy adds."""
MISSING_FAMILY = "complete"
"""The family of the rules that a setting is not written."""


_NONE: Mapping[str, Any] = MappingProxyType({})


class Instance(NamedTuple):
    """A rule's condition for one path of its `over:` and one key of a policy's table.

    `condition` is true if the rule is kept, false if it is broken, and unknown if it cannot be
    checked. `it` is the path of `over:`. `paths` are the leaves that a finding names, those of
    `require` first.
    """

    it: str | None
    condition: Tree
    paths: tuple[str, ...]
    scope: Scope


class Skipped(NamedTuple):
    """Why a rule, or one key of its table, is not asked of the orders that meet `applies_if`.

    If that is None, it is asked of no order.
    """

    reason: str
    applies_if: Member | Names | None = None


class ReadLater:
    """What has some of its fields in a file that is read when one of them is first asked for.

    `_read` gives, of an object and the field that is asked for, what fields it has then.
    """

    __slots__ = ("_read",)

    if not TYPE_CHECKING:  # to a type checker there are the fields of each class, and no other name

        def __getattr__(self, name):
            if name.startswith("_"):
                raise AttributeError(name)
            for field_name, value in self._read(self, name).items():
                object.__setattr__(self, field_name, value)
            return object.__getattribute__(self, name)


@dataclass(frozen=True, slots=True, kw_only=True, init=False, repr=False, eq=False)
class RuleBase(ReadLater):
    """What every rule has.

    `family` is the name of its file. Of one level, findings are shown by `harm`. `place` is where
    its record begins. `covers` are the ids of the rules that are not shown beside it at a setting
    they share, directly or through others. `examples` is the record's own section, or None if the
    rulebook is read without examples.
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
    harm: Harm = Harm.OTHER
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
    def conditions(self) -> tuple[Tree, ...]:
        """The condition of each of its instances."""
        return tuple(instance.condition for instance in self.instances)

    @property
    def inactive(self) -> tuple[str, ...]:
        """Why the rule, or some key of its table, is not asked, in words."""
        return tuple(dict.fromkeys(item.reason for item in self.skipped))


class OrderRule(ConditionBase):
    """A rule whose conditions read one order."""

    __slots__ = ()


class ChangeRule(ConditionBase):
    """A rule whose conditions read an earlier order as well, under `before.`."""

    __slots__ = ()


ConditionRule: TypeAlias = OrderRule | ChangeRule
Rule: TypeAlias = ConditionRule | CodeRule


class Suppression(NamedTuple):
    """A policy's suppression of a rule at `path`, a setting or section; everywhere if it is None.

    It applies before `until`, in milliseconds since 1970 UTC; `until_text` is that as written.
    `number` counts from 1 in the file.
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
        """Whether it is of this rule and of one of these paths."""
        named = self.path
        at_path = named is None or any(f"{path}.".startswith(f"{named}.") for path in paths)
        return self.rule == rule and at_path

    def fault(self, rule: str, **details: str) -> Fault:
        """A fault of the suppression; `rule` is the one with the words, `details` fill them."""
        at = f" at {self.path}" if self.path else ""
        named = {"rule": self.rule, "at": at, "until": self.until_text, **details}
        return Fault(rule, f"suppressions.{self.number}", self.rule, self.place, named)


class PolicyFault(NamedTuple):
    """A fault of a policy that concerns every order, or those that meet `applies_if`."""

    fault: Fault
    applies_if: Tree | None = None


class Rulebook(NamedTuple):
    """Every rule by id, in the order of the files.

    `policy` is the title of the policy in force, `outflow` its choice of that name, `values` its
    values by name. `derived` are the facts that conditions may name, `families` the titles of the
    files of rules. `suppressions` are those of a site policy that may be applied, `faults` the
    mistakes in it, `weaker` its values with which more orders pass than with the built-in ones, and
    `lowered` its levels that are below do-not-start where the built-in ones are not.
    `standing_orders` are its lines for what an order says nothing of; conditions on one order are
    asked of it as filled with them.
    """

    rules: Mapping[str, Rule]
    policy: str
    outflow: str | None
    values: Mapping[str, PolicyValue] = _NONE
    suppressions: tuple[Suppression, ...] = ()
    faults: tuple[Fault, ...] = ()
    weaker: tuple[PolicyFault, ...] = ()
    lowered: tuple[Fault, ...] = ()
    derived: Mapping[str, Surface] = _NONE
    families: Mapping[str, str] = _NONE
    standing_orders: StandingOrders | None = None

    @property
    def order_rules(self) -> tuple[OrderRule, ...]:
        """The rules on one order, in the order of the files."""
        return tuple(rule for rule in self.rules.values() if isinstance(rule, OrderRule))

    @property
    def change_rules(self) -> tuple[ChangeRule, ...]:
        """The rules on a change between two orders, in the order of the files."""
        return tuple(rule for rule in self.rules.values() if isinstance(rule, ChangeRule))

    def policy_faults(self, at: int) -> tuple[Fault, ...]:
        """The faults of the policy as of `at`, milliseconds since 1970 UTC."""
        expired = (
            item.fault("suppression-expired") for item in self.suppressions if at >= item.until
        )
        return (*self.faults, *expired)


def context_of(rule: ConditionRule, instance: Instance) -> Tree | None:
    """Where a rule speaks at all; None where it always does."""
    match instance.condition:
        # A condition is made of one part only where it is the key of a policy's table.
        case Or((Not(And(parts) as context), _)) if rule.when is not None or len(parts) == 1:
            return context
        case Or((Not(context), _)) if rule.when is not None:
            return context
        case _:
            return None


def subjects_of(paths: tuple[str, ...], condition: Tree | None = None) -> frozenset[str]:
    """The paths used to decide whether two findings are about the same setting.

    Choices, and texts in which the condition looks for a name, only count if there is nothing
    else: most conditions read one as context.
    """
    fields = field_table().fields
    found = atoms(condition) if condition is not None else ()
    named = {atom.path for atom in found if isinstance(atom, Names)}
    measured = [
        p
        for p in paths
        if p == CHECKED_AT or (p in fields and fields[p].kind != "choice" and p not in named)
    ]
    return frozenset(measured or paths)
