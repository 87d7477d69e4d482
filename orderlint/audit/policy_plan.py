"""A rulebook prepared for many rows: its conditions as one graph, and the breaks there can be.

What does not depend on a row. Never a row.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, NamedTuple

from orderlint.audit.condition_graph import Graph, Node
from orderlint.audit.row_faults import FaultKind, TextFaults
from orderlint.audit.texts import Lists, head_leaves
from orderlint.broken_rules import Break, break_of_fault
from orderlint.finding import Inactive
from orderlint.language.tree import Names, atoms
from orderlint.rulebook.rule import CodeRule, OrderRule, Rule, Rulebook, context_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.audit.policy_rows import Kept
    from orderlint.order import Leaf

_ON_READING = frozenset({"reading", "schema", "units"})


class PlannedCondition(NamedTuple):
    """One condition of a rule: where it is kept, where the rule speaks at all (None: everywhere),
    and the break that it is where it is false.
    """

    condition: Node
    context: Node | None
    broken: Break


class PolicyPlan:
    """A rulebook as it is asked of many rows.

    `asked` has the conditions of each rule, `rules` every rule that is counted, in the order of
    the rulebook. `absent` are the leaves that stand where a row has nothing. `kept` and
    `text_faults` are remembered from part to part.
    """

    def __init__(self, rulebook: Rulebook) -> None:
        self.rulebook = rulebook
        self.graph = Graph()
        self.asked: Mapping[str, tuple[PlannedCondition, ...]] = {
            rule.id: tuple(self._asked(rule)) for rule in rulebook.order_rules
        }
        self.rules: Mapping[str, Rule] = {
            rule.id: rule for rule in rulebook.rules.values() if is_counted(rule, rulebook)
        }
        standing = rulebook.standing_orders
        self.absent: Mapping[str, Leaf] = {
            **head_leaves(),
            **(standing.leaves if standing else {}),
        }
        self.forget()
        self._breaks: dict[FaultKind, Break] = {}

    def _asked(self, rule: OrderRule) -> Iterator[PlannedCondition]:
        for instance in rule.instances:
            context = context_of(rule, instance)
            yield PlannedCondition(
                self.graph.node(instance.condition),
                None if context is None else self.graph.node(context),
                Break(rule, instance.paths, instance),
            )

    def forget(self) -> None:
        """Forget what was remembered, for the classes that it is about are numbered anew."""
        self.kept: Kept = {}
        self.text_faults = TextFaults()

    def nodes(self) -> Iterator[Node]:
        """Every condition, and where its rule speaks."""
        for asked in self.asked.values():
            for each in asked:
                yield each.condition
                if each.context is not None:
                    yield each.context

    def break_of(self, kind: FaultKind) -> Break:
        """The break of the rule that has the words of such a fault."""
        if kind not in self._breaks:
            self._breaks[kind] = break_of_fault(kind.fault(), self.rulebook)
        return self._breaks[kind]

    def inactive(self) -> tuple[Inactive, ...]:
        """The rules that are not asked of all rows, with each reason."""
        return tuple(
            Inactive(rule.id, reason)
            for rule in self.rulebook.order_rules
            for reason in rule.inactive
        )

    def digest(self) -> str:
        """The SHA-256 of what the rules ask and how they are shown, in hexadecimal digits."""
        parts = (
            (
                rule.id,
                rule.level.value,
                sorted(rule.covers),
                [(each.broken.paths, each.condition.tree) for each in self.asked.get(rule.id, ())],
            )
            for rule in self.rules.values()
        )
        whole = repr((tuple(parts), self.rulebook.suppressions, self.rulebook.faults))
        standing = {path: leaf.text for path, leaf in self.absent.items()}
        return hashlib.sha256(f"{whole} {sorted(standing.items())}".encode()).hexdigest()


def is_counted(rule: Rule, rulebook: Rulebook) -> bool:
    """Whether a check of one order can find the rule broken."""
    if isinstance(rule, CodeRule):
        of_policy = {fault.rule for fault in rulebook.faults}
        of_policy |= {"suppression-expired"} if rulebook.suppressions else set()
        return rule.found_by in _ON_READING or rule.id in of_policy
    return isinstance(rule, OrderRule)


def lists_of(rulebooks: Iterable[Rulebook]) -> dict[str, Lists]:
    """The lists of names that conditions look for, by the path of the text."""
    found: dict[str, dict[tuple[str, ...], None]] = {}
    for rulebook in rulebooks:
        for rule in rulebook.order_rules:
            for instance in rule.instances:
                for atom in atoms(instance.condition):
                    if isinstance(atom, Names):
                        found.setdefault(atom.path, {})[atom.listed] = None
    return {path: tuple(lists) for path, lists in found.items()}
