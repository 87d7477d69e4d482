"""Asserts the do-not-start rules of a set under named assumptions, to get unsat cores.

Never what an option is worth.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Literal

import z3

from orderlint.language.tree import Given, Tree
from orderlint.proof.solver.encode import among
from orderlint.proof.solver.reachable_options import ReachableOptions
from orderlint.proof.solver.search import Search, together

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from orderlint.order_set.model import Slot
    from orderlint.proof.search_space import Picks


class SoundOrders:
    """Orders on which named rules are kept; asked while `holding` is entered."""

    def __init__(self, search: Search, trees: Mapping[str, Sequence[Tree]]) -> None:
        self.search = search
        evaluator = search.evaluator
        self.folded = {
            rule: [evaluator.simplify(tree) for tree in found] for rule, found in trees.items()
        }
        self.names = {rule: z3.Bool(f"rule {rule}") for rule in trees}

    @contextlib.contextmanager
    def holding(self) -> Iterator[None]:
        """The solver holds each rule under its name."""
        every = [tree for found in self.folded.values() for tree in found]
        named = [
            z3.Implies(self.names[rule], together(found)) for rule, found in self.folded.items()
        ]
        with self.search.holding(*self.search.encoding.facts(every), *named):
            yield

    def sound(self, known: list[Picks]) -> Literal["yes", "no", "open"]:
        """Whether any order keeps every rule; one that does is added to those known."""
        asked = self.search.check(list(self.names.values()))
        if asked.picks is not None:
            known.append(asked.picks)
        return asked.found

    def options(
        self, slot: Slot, uses: Callable[[Picks], bool], known: list[Picks], most: int
    ) -> ReachableOptions:
        """Which options of a slot an order uses that keeps every rule."""
        names = list(self.names.values())
        with self.search.holding(*self._shown(slot)):
            return ReachableOptions(self.search, slot, uses, known, most).settle(names)

    def because(self, indices: Sequence[int], slot: Slot | None = None) -> tuple[str, ...]:
        """Rules that together allow none of these options, each of which is needed for that."""
        facts = [] if slot is None else [*self._shown(slot), among(slot, indices)]
        with self.search.holding(*facts):
            kept = self._core()
            for rule in reversed(kept):
                fewer = [other for other in kept if other != rule]
                if self._is_none(fewer):
                    kept = fewer
        return tuple(kept)

    def _core(self) -> list[str]:
        """The rules of an unsat core; asked a second time, the solver may give no answer: all."""
        if not self._is_none(self.names):
            return [*self.names]
        core = {str(name) for name in self.search.solver.unsat_core()}
        return [rule for rule, name in self.names.items() if str(name) in core]

    def _is_none(self, rules: Iterable[str]) -> bool:
        """Whether the solver says that no order keeps these rules."""
        return self.search.check([self.names[rule] for rule in rules]).found == "no"

    def _shown(self, slot: Slot) -> list[z3.BoolRef]:
        encoding = self.search.encoding
        return [*encoding.facts([Given((slot.path,))]), *encoding.shown(slot.path)]
