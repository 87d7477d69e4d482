"""What a rule comes to on one order, over all the settings at which it is asked."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING, NamedTuple

from orderlint.language.evaluate import evaluate
from orderlint.language.tree import And, Names, Or, Tree, Written, atoms, paths_of
from orderlint.rulebook.rule import OrderRule, context_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.order import Leaf


class RowOutcome(enum.IntEnum):
    """What a rule comes to. Of several settings the greatest counts."""

    NOT_ASKED = 0
    KEPT = 1
    UNCHECKED = 2
    BROKEN = 3


COUNTS = {
    RowOutcome.BROKEN: "broken",
    RowOutcome.KEPT: "kept",
    RowOutcome.NOT_ASKED: "not_asked",
    RowOutcome.UNCHECKED: "unchecked",
}
"""What the counts of rows by outcome are called."""


class RuleTrees(NamedTuple):
    """The conditions of a rule as two trees: `kept` at every setting, `asked` at one at least.

    `asked` is None where the rule is asked of every order, `kept` where it is asked of none.
    """

    rule: str
    kept: Tree | None
    asked: Tree | None

    @property
    def both(self) -> tuple[Tree, ...]:
        """The trees that there are."""
        return tuple(tree for tree in (self.kept, self.asked) if tree is not None)


def trees_of(rule: OrderRule) -> RuleTrees:
    """The trees of a rule.

    INVARIANT: in Kleene's logic an `and` is false where one part is, else unknown where one part
    is, else true; so of several settings broken counts before unchecked, and that before kept.
    """
    if not rule.instances:
        return RuleTrees(rule.id, None, None)
    contexts = [context_of(rule, instance) for instance in rule.instances]
    known = tuple(context for context in contexts if context is not None)
    asked = Or(known) if len(known) == len(contexts) else None
    return RuleTrees(rule.id, And(tuple(each.condition for each in rule.instances)), asked)


def outcome_of(trees: RuleTrees, leaves: Mapping[str, Leaf]) -> RowOutcome:
    """What the rule comes to on one order."""
    if trees.kept is None:
        return RowOutcome.NOT_ASKED
    kept = evaluate(trees.kept, leaves)
    if kept is not True:
        return RowOutcome.BROKEN if kept is False else RowOutcome.UNCHECKED
    is_asked = trees.asked is None or evaluate(trees.asked, leaves) is not False
    return RowOutcome.KEPT if is_asked else RowOutcome.NOT_ASKED


class Tests(NamedTuple):
    """What conditions look for in the text of one leaf: notation flags, and lists of names."""

    flags: frozenset[str]
    lists: frozenset[tuple[str, ...]]


def tests_of(trees: Iterable[RuleTrees]) -> Mapping[str, Tests]:
    """The leaves that the trees read, by path, each with what is looked for in its text."""
    every = {atom for each in trees for tree in each.both for atom in atoms(tree)}
    flags = {(atom.path, atom.flag) for atom in every if isinstance(atom, Written)}
    lists = {(atom.path, atom.listed) for atom in every if isinstance(atom, Names)}
    return {
        path: Tests(
            frozenset(flag for at, flag in flags if at == path),
            frozenset(listed for at, listed in lists if at == path),
        )
        for path in sorted({path for atom in every for path in paths_of(atom)})
    }
