"""Two order sets: whether the later yields more orders, fewer, or others, and what new ones break.

Each order shown is evaluated in both sets first. That there is no such order is said only if
enumeration and solver both find none. Never a judgement of either set.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from orderlint.language.evaluate import evaluate
from orderlint.language.evaluate import missing as missing_in
from orderlint.language.tree import And
from orderlint.proof.orders_outside import Answer, OrdersOutside
from orderlint.proof.prover import LIMITS, UNSETTLED, Prover, Result

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.language.budget import Watched
    from orderlint.order_set.model import OrderSet
    from orderlint.proof.orders_outside import DifferingOrder
    from orderlint.proof.prover import Proof
    from orderlint.proof.search_space import Limits
    from orderlint.rulebook.rule import OrderRule, Rulebook

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


def _relation(gone: Answer, new: Answer) -> Relation:
    if gone.reason or new.reason:
        return "open"
    if gone.example is None:
        return "equal" if new.example is None else "looser"
    return "stricter" if new.example is None else "both"


def _asked_of(rule: OrderRule, added: OrdersOutside) -> Iterator[tuple[Answer, tuple[str, ...]]]:
    """What a new order does to one rule at worst, with what is then missing."""
    prover = added.prover
    asked = tuple(each.condition for each in prover.before_signing(rule))
    # What the whole later set keeps, by both ways, none of its orders breaks.
    if not asked or prover.decide(rule).result in {Result.PROVED, Result.VACUOUS}:
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
