"""The do-not-start rules of a set held by the solver, each under its own name.

Never what an option is worth.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import z3

from orderlint.proof.solver.encode import among
from orderlint.proof.solver.reachable_options import ReachableOptions
from orderlint.proof.solver.search import together

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from types import TracebackType
    from typing import Literal

    from orderlint.language.tree import Tree
    from orderlint.order_set.model import Slot
    from orderlint.proof.prover import Prover
    from orderlint.proof.solver.reachable_options import Reachability
    from orderlint.proof.space import Picks


class SoundOrders:
    """While it is entered, the solver can be asked for orders on which named rules are kept."""

    def __init__(self, prover: Prover, trees: Mapping[str, Sequence[Tree]]) -> None:
        self.search = prover.search
        evaluator = prover.evaluator
        self.folded = {
            rule: [evaluator.simplify(tree) for tree in found] for rule, found in trees.items()
        }
        self.names = {rule: z3.Bool(f"rule {rule}") for rule in trees}
        self.paths = prover.space.order_set.slots

    def __enter__(self) -> SoundOrders:
        self.search.solver.push()
        every = [tree for found in self.folded.values() for tree in found]
        self.search.solver.add(*self.search.encoding.facts(every))
        for rule, found in self.folded.items():
            self.search.solver.add(z3.Implies(self.names[rule], together(found)))
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.search.solver.pop()

    def sound(self, known: list[Picks]) -> Literal["yes", "no", "open"]:
        """Whether any order keeps every rule; one that does is added to those known."""
        asked = self.search.check(self.paths, list(self.names.values()))
        if asked.picks is not None:
            known.append(asked.picks)
        return asked.found

    def options(
        self, slot: Slot, uses: Callable[[Picks], bool], known: list[Picks], most: int
    ) -> Reachability:
        """Which options of a slot an order uses that keeps every rule."""
        solver = self.search.solver
        solver.push()
        self._show(slot)
        reached = ReachableOptions(self.search, slot, uses, known, most).options(
            list(self.names.values())
        )
        solver.pop()
        return reached

    def because(self, indices: Sequence[int], slot: Slot | None = None) -> tuple[str, ...]:
        """Rules that together allow none of these options, each of which is needed for that."""
        solver = self.search.solver
        solver.push()
        if slot is not None:
            self._show(slot)
            solver.add(among(slot, indices))
        names = {str(name): rule for rule, name in self.names.items()}
        # Asked a second time, the solver may give no answer: then it is all of them together.
        is_none = solver.check(*self.names.values()) == z3.unsat
        kept = [names[str(name)] for name in solver.unsat_core()] if is_none else [*self.names]
        for rule in sorted(kept, key=list(self.names).index, reverse=True):
            fewer = [other for other in kept if other != rule]
            if solver.check(*(self.names[other] for other in fewer)) == z3.unsat:
                kept = fewer
        solver.pop()
        return tuple(sorted(kept, key=list(self.names).index))

    def _show(self, slot: Slot) -> None:
        encoding = self.search.encoding
        given = encoding.facts_of((slot.path, "given"))
        self.search.solver.add(*given, *encoding.shown(slot.path))
