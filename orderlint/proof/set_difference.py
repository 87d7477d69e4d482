"""Two order sets: whether the later yields more orders, fewer, or others, and what new ones break.

Each order shown is evaluated in both sets first. That there is no such order is said only if
enumeration and solver both find none. Never a judgement of either set.
"""

from __future__ import annotations

import contextlib
import functools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

from orderlint.language.evaluate import evaluate
from orderlint.language.evaluate import missing as missing_in
from orderlint.language.tree import And, Not, Or, Tree, paths_in
from orderlint.proof.counterexample import nearest_to_presets, nearest_within, picks_of
from orderlint.proof.distance import Key, cost
from orderlint.proof.prover import LIMITS, UNSETTLED, Decision, Proof, Prover
from orderlint.proof.search_space import Disagreement, Limits, Picks, TooLarge, leaves_of
from orderlint.proof.set_membership import Membership, is_true, membership, yields
from orderlint.proof.solver.partial_eval import Outcome, is_constant, settled_value

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.language.budget import Watched
    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet
    from orderlint.proof.counterexample import Pick, SectionChoice
    from orderlint.rulebook.rule import OrderRule, Rulebook


@dataclass(frozen=True, slots=True)
class DifferingOrder:
    """The order nearest to a set's presets that it yields and the other set does not.

    `picks` and `sections` make it in the set that yields it, `leaves` are the order's. At
    `differing` the other set cannot have the same. `is_least` is false where the solver gave no
    answer to whether any is nearer.
    """

    picks: tuple[Pick, ...]
    sections: tuple[SectionChoice, ...]
    leaves: Mapping[str, Leaf]
    differing: tuple[str, ...]
    is_least: bool


class OrderOutside(NamedTuple):
    """An order that was asked for, None where there is none; or why that is not known."""

    example: DifferingOrder | None = None
    reason: str | None = None


class _AtLeaf(NamedTuple):
    """A leaf at which orders can differ, and the nearest order that does.

    `least` is the cost of that one, below which there is none: None where that was not settled,
    for the `reasons`.
    """

    agrees: Tree
    nearest: Picks | None
    least: Key | None
    reasons: tuple[str, ...]


class OrdersOutside:
    """The orders that one set yields and the other does not.

    Asked leaf by leaf where the other set has something else: the nearest of all is the nearest of
    those, and each depends on few settings.
    """

    def __init__(
        self, first: OrderSet, other: OrderSet, rules: list[OrderRule], limits: Limits
    ) -> None:
        self.member: Membership = membership(first, other)
        self.theirs = other
        self.prover = Prover(self.member.marked, rules, limits, self.member.agrees.values())

    def find(self, kept: Tree | None = None, outcome: Outcome = "false") -> OrderOutside:
        """The nearest such order; where `kept` is named, the nearest on which it comes out so."""
        best: tuple[Key, Picks] | None = None
        reasons: list[str] = []
        for leaf in self._leaves:
            if best and leaf.least and leaf.least > best[0]:
                continue  # INVARIANT: an order that breaks a rule besides is no nearer than that
            picks, notes = leaf.nearest, leaf.reasons
            if kept is not None:
                picks, notes = self._at(leaf.agrees, kept, outcome, best[0] if best else None)
            reasons.extend(notes)
            if picks is not None and (best is None or self._cost(picks) < best[0]):
                best = self._cost(picks), picks
        if best is None:
            return OrderOutside(reason="; ".join(dict.fromkeys(reasons)) or None)
        return OrderOutside(self._example(best[1], kept, outcome, is_least=not reasons))

    def _cost(self, picks: Picks) -> Key:
        return cost(self.prover.space.order_set, picks)

    @functools.cached_property
    def _leaves(self) -> list[_AtLeaf]:
        """The leaves at which some order differs or may differ, that with the nearest first."""
        found = [self._alone(agrees) for agrees in self._agreements()]
        settled = [(leaf.least, leaf) for leaf in found if leaf.least]
        settled.sort(key=lambda pair: pair[0])
        return [*(leaf for _, leaf in settled), *(leaf for leaf in found if leaf.reasons)]

    def _alone(self, agrees: Tree) -> _AtLeaf:
        picks, reasons = self._at(agrees, None, "false", None)
        least = None if picks is None or reasons else self._cost(picks)
        return _AtLeaf(agrees, picks, least, reasons)

    def _agreements(self) -> list[Tree]:
        """When each leaf agrees; that of one leaf alone, where every order differs at it.

        Both ways must say that it never does.
        """
        agrees = [*self.member.agrees.values()]
        never = [tree for tree in agrees if self._never(tree)]
        for tree in sorted(never, key=lambda each: len(paths_in(each))):
            with contextlib.suppress(TooLarge):
                if self.prover.minimum(Not(tree)).lowest:
                    return [tree]
                raise Disagreement("a leaf", "it never agrees", "enumeration that it can")
        return agrees

    def _never(self, tree: Tree) -> bool:
        folded = self.prover.evaluator.simplify(tree)
        return is_constant(folded) and settled_value(folded) is False

    def _at(
        self, agrees: Tree, kept: Tree | None, outcome: Outcome, most: Key | None
    ) -> tuple[Picks | None, tuple[str, ...]]:
        """The nearest that differs at one leaf, if any, and what about it was not settled.

        With `most`, the cost of an order that is known: the nearest that is no farther.
        """
        tree = agrees if kept is None else Or((agrees, kept))
        falls = tree
        if kept is not None and outcome == "not true":
            falls = Or((agrees, is_true(kept)))  # false wherever `kept` is not true
        if most is not None:
            picks, is_settled = nearest_within(self.prover, falls, most)
            return picks, () if is_settled else (self.prover.no_answer,)
        asked = self.prover.find(tree, outcome)
        witness = asked.picks if asked else None
        if witness is None:
            witness, reasons = self._by_enumeration(tree, outcome, is_open=asked is not None)
            if witness is None:
                return None, reasons
        picks, is_least = nearest_to_presets(self.prover, falls, witness)
        return picks, () if is_least else (self.prover.no_answer,)

    def _by_enumeration(
        self, tree: Tree, outcome: Outcome, *, is_open: bool
    ) -> tuple[Picks | None, tuple[str, ...]]:
        """The second way: an order after all where the solver gave no answer, or that none is."""
        try:
            met = self.prover.minimum(tree)
        except TooLarge as given_up:
            return None, (*[self.prover.no_answer] * is_open, str(given_up))
        if met.lowest is True or (met.lowest is None and outcome == "false"):
            return None, (self.prover.no_answer,) if is_open else ()
        if not is_open:
            raise Disagreement("an order of one set alone", "there is none", "enumeration has one")
        return met.witness, ()

    def _example(
        self, picks: Picks, kept: Tree | None, outcome: Outcome, *, is_least: bool
    ) -> DifferingOrder:
        marked = leaves_of(self.member.marked, picks)
        leaves = leaves_of(self.member.order_set, picks)
        if yields(self.theirs, leaves) or not yields(self.member.order_set, leaves):
            raise Disagreement("an order", "one set alone yields it", "by its meaning it does not")
        truth = None if kept is None else evaluate(kept, marked)
        if kept is not None and (truth is True or (truth is None and outcome == "false")):
            raise Disagreement("an order", "it does not keep a rule", "by its meaning it does")
        shown, sections = picks_of(self.member.order_set, picks)
        return DifferingOrder(shown, sections, leaves, self.member.differing(marked), is_least)


Relation: TypeAlias = Literal["equal", "stricter", "looser", "both", "open"]


@dataclass(frozen=True, slots=True)
class NewlyBroken:
    """A rule that an order breaks, or may leave unchecked, which only the later set yields.

    `paths` are the leaves of the conditions that it breaks, `missing` those for lack of which the
    rule cannot be checked; one of the two is empty. `before` is what the earlier set makes of the
    rule by itself. What is judged at signing is in neither.
    """

    rule: str
    example: DifferingOrder
    paths: tuple[str, ...]
    missing: tuple[str, ...]
    before: Proof


@dataclass(frozen=True, slots=True)
class SetDifference:
    """What a later set changes.

    `stricter`: some orders are gone and none is new; `looser`: the reverse; `both`: some of
    each. `gone` and `new` are such orders; `open` says what of the two was not settled, and why.
    `broken` has the rules that new orders break or may leave unchecked, `unsettled` those of which
    that is not known, with why. What is judged at signing is in neither; `at_signing` has the rules
    of which nothing can be asked before.
    """

    relation: Relation
    gone: DifferingOrder | None
    new: DifferingOrder | None
    broken: tuple[NewlyBroken, ...]
    open: tuple[str, ...]
    unsettled: Mapping[str, str]
    at_signing: tuple[str, ...] = ()


def difference_of(
    before: OrderSet,
    after: OrderSet,
    rulebook: Rulebook,
    limits: Limits = LIMITS,
    watched: Watched = iter,
) -> SetDifference:
    """How the orders of two sets differ. Of a set with `unsettled` faults nothing is said.

    `watched` yields the rules again, so that a caller can show progress.
    """
    if before.unsettled or after.unsettled:
        named = [item.file for item in (before, after) if item.unsettled]
        return SetDifference("open", None, None, (), tuple(f"{n}: {UNSETTLED}" for n in named), {})
    rules = [rule for rule in rulebook.order_rules if rule.instances]
    gone = OrdersOutside(before, after, [], limits).find()
    added = OrdersOutside(after, before, rules, limits)
    new = added.find()
    broken: list[NewlyBroken] = []
    unsettled: dict[str, str] = {}
    earlier = Prover(before, rules, limits)
    for rule in watched(rules) if new.example or new.reason else ():
        for answer, missing in _asked_of(rule, added):
            if answer.reason:
                unsettled[rule.id] = answer.reason
            elif answer.example:
                known = earlier.decide(rule)
                paths = () if missing else _broken_at(rule, added.prover, answer.example)
                broken.append(NewlyBroken(rule.id, answer.example, paths, missing, known))
    reasons = tuple(
        f"{what}: {found.reason}" for what, found in (("gone", gone), ("new", new)) if found.reason
    )
    relation = _relation(gone, new)
    later = tuple(rule.id for rule in rules if not added.prover.before_signing(rule))
    return SetDifference(
        relation, gone.example, new.example, tuple(broken), reasons, unsettled, later
    )


def _relation(gone: OrderOutside, new: OrderOutside) -> Relation:
    if gone.reason or new.reason:
        return "open"
    if gone.example is None:
        return "equal" if new.example is None else "looser"
    return "stricter" if new.example is None else "both"


def _asked_of(
    rule: OrderRule, added: OrdersOutside
) -> Iterator[tuple[OrderOutside, tuple[str, ...]]]:
    """What a new order does to one rule at worst, with what is then missing."""
    prover = added.prover
    asked = tuple(each.condition for each in prover.before_signing(rule))
    # What the whole later set keeps, by both ways, none of its orders breaks.
    if not asked or prover.decide(rule).result in {Decision.PROVED, Decision.VACUOUS}:
        return
    sound = And(asked)
    broken = added.find(sound)
    if broken.example or broken.reason:
        yield broken, ()
        return
    left = added.find(sound, "not true")
    if left.example or left.reason:
        yield left, missing_in(sound, left.example.leaves) if left.example else ()


def _broken_at(rule: OrderRule, prover: Prover, example: DifferingOrder) -> tuple[str, ...]:
    """The leaves of the conditions that an order breaks, but for those judged at signing."""
    asked = prover.before_signing(rule)
    broken = (each for each in asked if evaluate(each.condition, example.leaves) is False)
    return tuple(dict.fromkeys(path for each in broken for path in each.paths))
