"""Questions to z3 about the orders of a set, each answer held against the meaning of the rules.

Never a verdict: that takes a second way.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import z3

from orderlint.language.evaluate import evaluate
from orderlint.language.solve import solve
from orderlint.proof.solver.encode import Encoding, picked_in
from orderlint.proof.solver.partial_eval import is_constant, truth_of
from orderlint.proof.space import Disagreement, dependency_closure, leaves_of, paths_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from orderlint.language.tree import Tree
    from orderlint.proof.solver.partial_eval import PartialEvaluator
    from orderlint.proof.space import Limits, Picks

Outcome = Literal["false", "not true", "true"]


@dataclass(frozen=True, slots=True)
class Asked:
    """Whether there is such an order, which `picks` make; `open` where z3 gave no answer."""

    found: Literal["yes", "no", "open"]
    picks: Picks | None = None


class Search:
    """A solver for one order set. Facts are made once and lent to each question.

    `is_timed` is whether the clock stopped any, rather than the effort that is the same anywhere.
    """

    def __init__(self, evaluator: PartialEvaluator, limits: Limits) -> None:
        self.evaluator = evaluator
        self.space = evaluator.space
        self.encoding = Encoding(evaluator)
        self.solver = z3.SimpleSolver()
        self.solver.set("timeout", limits.milliseconds)
        self.solver.set("rlimit", limits.effort)
        self.milliseconds = limits.milliseconds
        self.is_timed = False

    @property
    def spent(self) -> int:
        """z3's count of steps so far, of whatever was asked of it in this process."""
        return int(self.solver.statistics().get_key_value("rlimit count"))

    def find(self, tree: Tree, outcome: Outcome) -> Asked:
        """An order on which a condition comes out so."""
        folded = self.evaluator.simplify(tree)
        if is_constant(folded):
            base = self.space.base
            return Asked("yes", base) if _is(truth_of(folded), outcome) else Asked("no")
        self.solver.push()
        self.solver.add(*self.encoding.facts([folded]), wanted(folded, outcome))
        asked = self.check(paths_in(tree))
        self.solver.pop()
        if asked.picks is not None:
            self.replay(tree, outcome, asked.picks)
        return asked

    def check(self, paths: Iterable[str], assumed: Sequence[z3.BoolRef] = ()) -> Asked:
        """What z3 says of all that was added; the picks at what these leaves depend on."""
        begun = time.monotonic()
        result = self.solver.check(*assumed)
        if result == z3.unsat:
            return Asked("no")
        if result != z3.sat:
            self.is_timed |= (time.monotonic() - begun) * 1_000 >= self.milliseconds
            return Asked("open")
        depended = dependency_closure(self.space, paths).slots
        return Asked("yes", picked_in(self.encoding, self.solver.model(), depended))

    def replay(self, tree: Tree, outcome: Outcome, picks: Picks) -> None:
        """Hold an order of the solver's against the meaning. Raises Disagreement."""
        truth = evaluate(tree, leaves_of(self.space.order_set, picks))
        if not _is(truth, outcome):
            raise Disagreement(
                "a witness", outcome, f"and by the meaning of the rules it is {truth}"
            )


def wanted(folded: Tree, outcome: Outcome) -> z3.BoolRef:
    """The outcome of a tree as a condition."""
    pair = solve(folded)
    return {"false": pair.false, "true": pair.true, "not true": z3.Not(pair.true)}[outcome]


def _is(truth: bool | None, outcome: Outcome) -> bool:
    return {"false": truth is False, "true": truth is True, "not true": truth is not True}[outcome]


def together(trees: Sequence[Tree]) -> z3.BoolRef:
    """That every one of some folded trees is true."""
    return z3.And([solve(tree).true for tree in trees])
