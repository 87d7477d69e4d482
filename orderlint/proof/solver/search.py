"""Asks z3 about the orders of a set, and evaluates the rules on each order that it answers with.

Never a verdict: that takes a second way.
"""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import z3

from orderlint.language.evaluate import evaluate
from orderlint.language.run_z3 import check_within, heeding, steps_so_far
from orderlint.language.to_z3 import known_of, solve
from orderlint.proof.search_space import Disagreement, Limits, Picks, leaves_of
from orderlint.proof.solver.encode import Encoding, picked_in
from orderlint.proof.solver.partial_eval import NOWHERE, comes_out, is_constant, settled_value

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from orderlint.language.tree import Tree
    from orderlint.proof.solver.partial_eval import Outcome, PartialEvaluator


@dataclass(frozen=True, slots=True)
class SolverAnswer:
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
        self.solver = heeding(z3.SimpleSolver())
        self.solver.set("timeout", limits.milliseconds)
        self.solver.set("rlimit", limits.effort)
        self.solver.add(z3.Not(known_of(NOWHERE)))
        self.limits = limits
        self.is_timed = False

    @property
    def spent(self) -> int:
        """z3's count of steps so far, of whatever was asked of it in this process."""
        return steps_so_far(self.solver)

    def find(self, tree: Tree, outcome: Outcome) -> SolverAnswer:
        """An order on which a condition comes out so."""
        folded = self.evaluator.simplify(tree)
        if is_constant(folded):
            base = self.space.base
            return (
                SolverAnswer("yes", base)
                if comes_out(settled_value(folded), outcome)
                else SolverAnswer("no")
            )
        with self.holding(*self.encoding.facts([folded]), wanted(folded, outcome)):
            asked = self.check()
        if asked.picks is not None:
            self.replay(tree, outcome, asked.picks)
        return asked

    @contextlib.contextmanager
    def holding(self, *facts: z3.BoolRef) -> Iterator[None]:
        """The solver takes these facts, and all that is added within, until the block ends."""
        self.solver.push()
        self.solver.add(*facts)
        try:
            yield
        finally:
            self.solver.pop()

    def check(self, assumed: Sequence[z3.BoolRef] = ()) -> SolverAnswer:
        """Whether z3 finds an order on which all that was added holds, and its picks."""
        begun = time.monotonic()
        limits = self.limits
        result = check_within(limits.budget, limits.effort, self.solver, *assumed)
        if result == z3.unsat:
            return SolverAnswer("no")
        if result != z3.sat:
            self.is_timed |= (time.monotonic() - begun) * 1_000 >= self.limits.milliseconds
            return SolverAnswer("open")
        return SolverAnswer("yes", picked_in(self.space, self.solver.model()))

    def replay(self, tree: Tree, outcome: Outcome, picks: Picks) -> None:
        """Hold an order of the solver's against the meaning. Raises Disagreement."""
        truth = evaluate(tree, leaves_of(self.space.order_set, picks))
        if not comes_out(truth, outcome):
            raise Disagreement(
                "a witness", outcome, f"and by the meaning of the rules it is {truth}"
            )


def least(ask: Callable[[int], int | None], bound: int, found: int | None = None) -> int | None:
    """The least number from 0 that `ask` finds, by bisection; None where it finds none.

    `ask` gives a number that it finds up to a bound, or None. `bound` is the first to ask with,
    `found` a number that is known.
    """
    low = -1
    while bound > low:
        met = ask(bound)
        if met is not None:
            found = met
        elif found is None:
            return None
        else:
            low = bound
        bound = (low + found) // 2
    return found


def wanted(folded: Tree, outcome: Outcome) -> z3.BoolRef:
    """The outcome of a tree as a condition."""
    pair = solve(folded)
    return {"false": pair.false, "true": pair.true, "not true": z3.Not(pair.true)}[outcome]


def together(trees: Sequence[Tree]) -> z3.BoolRef:
    """That every one of some folded trees is true."""
    return z3.And([solve(tree).true for tree in trees])
