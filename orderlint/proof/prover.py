"""Decides each rule over every order that a set can yield: proved, broken, or why neither.

A proof takes enumeration and solver: both must finish, and agree. Never a word of a report.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.language.budget import SPENT, Budget
from orderlint.language.evaluate import missing
from orderlint.language.tree import And, Names, Not, Or, Tree, atoms, paths_in
from orderlint.proof.enumeration.monotone import Minimum, minimum_value
from orderlint.proof.enumeration.partition import Domains
from orderlint.proof.search_space import (
    Disagreement,
    Limits,
    TooLarge,
    dependency_closure,
    leaves_of,
    space_of,
)
from orderlint.proof.solver.partial_eval import (
    PartialEvaluator,
    comes_out,
    is_constant,
    settled_value,
)
from orderlint.rulebook.rule import Instance, OrderRule, context_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from orderlint.order_set.model import OrderSet
    from orderlint.proof.search_space import Picks
    from orderlint.proof.solver.partial_eval import Outcome
    from orderlint.proof.solver.search import Search, SolverAnswer

LIMITS = Limits()
NO_ANSWER = "the solver gave no answer within its limits"
TIMED = f"{NO_ANSWER}; as a clock stopped it, another run may find one"
UNSETTLED = "faults in the set leave open what it can yield"


def limits_of(millions: int) -> Limits:
    """The usual limits, with so many million steps for a whole run."""
    return replace(LIMITS, budget=Budget(millions))


class Decision(enum.Enum):
    """What became of one rule, heaviest first; the last two are no proof at all."""

    BROKEN = "broken"
    NOT_PROVED = "not-proved"
    UNDETERMINED = "undetermined"
    VACUOUS = "vacuous"
    PROVED = "proved"
    AT_SIGNING = "at-signing"
    INACTIVE = "inactive"


@dataclass(frozen=True, slots=True)
class Proof:
    """One rule over every order of a set.

    `witness` picks an order on which the rule is broken or cannot be checked, `missing` are then
    the leaves for lack of which it cannot. `reasons` say why a rule was not proved or not asked;
    `at_signing` are the facts of signing for whose sake some or all of it is judged later.
    """

    rule: str
    result: Decision
    witness: Picks | None = None
    missing: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    at_signing: tuple[str, ...] = ()


class Prover:
    """What the questions about one set share: the set, cells of its slots, and a lazy solver.

    `more` are conditions that are asked besides those of the rules. Only enumeration uses
    `domains`, and only the solver uses `evaluator`; both use `space`, whose module says what it
    holds.
    """

    def __init__(
        self,
        order_set: OrderSet,
        rules: Iterable[OrderRule],
        limits: Limits = LIMITS,
        more: Iterable[Tree] = (),
    ) -> None:
        self.rules = tuple(rules)
        trees = [tree for rule in self.rules for tree in rule.conditions]
        read = {path for tree in (*trees, *more) for path in paths_in(tree)}
        self.space = space_of(order_set, read)
        self.limits = limits
        self.domains = Domains()
        self.evaluator = PartialEvaluator(self.space)
        self._search: Search | None = None
        self._facts: dict[int, tuple[Instance, tuple[str, ...]]] = {}

    @property
    def search(self) -> Search:
        """The solver, imported when the first question needs it."""
        if self._search is None:
            from orderlint.proof.solver.search import Search  # noqa: PLC0415 - z3 is slow to import

            self._search = Search(self.evaluator, self.limits)
        return self._search

    @property
    def no_answer(self) -> str:
        """Why the solver gave no answer, in words."""
        if self.limits.is_spent:
            return SPENT
        return TIMED if self._search is not None and self._search.is_timed else NO_ANSWER

    def find(self, tree: Tree, outcome: Outcome) -> SolverAnswer | None:
        """An order on which a condition comes out so, by the solver; None where it never does."""
        folded = self.evaluator.simplify(tree)
        if is_constant(folded) and not comes_out(settled_value(folded), outcome):
            return None
        asked = self.search.find(tree, outcome)
        return None if asked.found == "no" else asked

    def at_signing(self, instance: Instance) -> tuple[str, ...]:
        """The facts of signing on which a condition depends, and the blanks of which it asks what
        is named there: anything may be written in them.

        A condition on settings beside the status is judged for each status, not only at signing.
        """
        if id(instance) not in self._facts:  # kept with it, so that no other is taken for it
            self._facts[id(instance)] = instance, self._at_signing(instance)
        return self._facts[id(instance)][1]

    def _at_signing(self, instance: Instance) -> tuple[str, ...]:
        slots = dependency_closure(self.space.order_set, paths_in(instance.condition)).slots
        signed = {path for path, slot in slots.items() if slot.signed}
        if signed == {"status"} and len(slots) > 1:
            signed = set()
        named = {atom.path for atom in atoms(instance.condition) if isinstance(atom, Names)}
        return tuple(
            path
            for path, slot in slots.items()
            if path in signed or (path in named and any(o.to_be_written for o in slot.options))
        )

    def before_signing(self, rule: OrderRule) -> list[Instance]:
        """The instances of a rule that depend on no fact of signing."""
        return [instance for instance in rule.instances if not self.at_signing(instance)]

    def facts_at_signing(self, rule: OrderRule) -> tuple[str, ...]:
        """The facts of signing for whose sake some or all of a rule is judged later."""
        found = (path for instance in rule.instances for path in self.at_signing(instance))
        return tuple(dict.fromkeys(found))

    def decide(self, rule: OrderRule) -> Proof:
        """One rule, over every order of the set. Raises Disagreement, which is a fault of ours."""
        if not rule.instances:
            return Proof(rule.id, Decision.INACTIVE, reasons=rule.inactive)
        left = self.before_signing(rule)
        if not left:
            proof = Proof(rule.id, Decision.AT_SIGNING)
        elif self.space.order_set.unsettled:
            proof = Proof(rule.id, Decision.NOT_PROVED, reasons=(UNSETTLED,))
        else:
            proof = self._decide(rule, left)
        return replace(proof, at_signing=self.facts_at_signing(rule))

    def _decide(self, rule: OrderRule, left: Sequence[Instance]) -> Proof:
        trees = tuple(instance.condition for instance in left)
        lowest, witness, reason = self.by_enumeration(trees)
        if lowest is False:
            return Proof(rule.id, Decision.BROKEN, witness)
        asked = self.find(And(trees), "not true" if lowest and not reason else "false")
        if asked and asked.picks and reason:
            return Proof(rule.id, Decision.BROKEN, asked.picks)
        if asked and asked.picks:
            said = "never broken" if lowest is None else "always kept"
            raise Disagreement(rule.id, "it can be broken or unknown", f"enumeration {said}")
        if asked or reason:
            told = [*([reason] if reason else []), *([self.no_answer] if asked else [])]
            return Proof(rule.id, Decision.NOT_PROVED, reasons=tuple(dict.fromkeys(told)))
        if lowest is None and witness:
            leaves = leaves_of(self.space.order_set, witness)
            lacking = dict.fromkeys(path for tree in trees for path in missing(tree, leaves))
            return Proof(rule.id, Decision.UNDETERMINED, witness, tuple(lacking))
        return self._proved(rule, left)

    def minimum(self, tree: Tree) -> Minimum:
        """The least value of a condition, by enumeration. Raises TooLarge where it is given up."""
        return minimum_value(self.space, tree, self.domains, self.limits)

    def by_enumeration(self, trees: Sequence[Tree]) -> tuple[bool | None, Picks | None, str | None]:
        """The least value of any of some conditions, a witness, and why some were given up."""
        lowest: bool | None = True
        witness, reason = None, None
        for tree in trees:
            try:
                met = self.minimum(tree)
            except TooLarge as given_up:
                reason = str(given_up)
                continue
            if met.lowest is False:
                return False, met.witness, None
            if met.lowest is None and lowest:
                lowest, witness = None, met.witness
        return lowest, witness, reason

    def _proved(self, rule: OrderRule, left: Sequence[Instance]) -> Proof:
        """Proved; or vacuous, if the rule's `when` is true on no order of the set."""
        whens = [context_of(rule, instance) for instance in left]
        contexts = tuple(when for when in whens if when is not None)
        if len(contexts) < len(whens):
            return Proof(rule.id, Decision.PROVED)
        lowest, _, reason = self.by_enumeration([Not(when) for when in contexts])
        if lowest is False:
            return Proof(rule.id, Decision.PROVED)
        asked = self.find(Or(contexts), "true")
        if asked and asked.picks and not reason:
            raise Disagreement(rule.id, "its `when` can hold", "enumeration that it never does")
        if asked and asked.picks:
            return Proof(rule.id, Decision.PROVED)
        if asked or reason:
            return Proof(rule.id, Decision.NOT_PROVED, reasons=(reason or self.no_answer,))
        return Proof(rule.id, Decision.VACUOUS)
