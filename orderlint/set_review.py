"""An order set in; out come the proof of each rule, or the nearest order that breaks it.

Joins hygiene, proof and the verdict on an order. Never a word that is not in the rule files.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orderlint.assessment import (
    Assessment,
    assessment_of,
    definedness_rule,
    findings_of_faults,
    split_by_suppression,
)
from orderlint.finding import Finding, NotChecked, Suppressed, Unchecked
from orderlint.order import Order
from orderlint.order_set.free_texts import texts_not_checked
from orderlint.order_set.model import OrderSet, preset_order, to_fill, within
from orderlint.order_set.static_checks import set_faults, with_controller_steps
from orderlint.proof.counterexample import Counterexample, counterexample_of
from orderlint.proof.counting import Count, count
from orderlint.proof.narrowing import Narrowing, meet, narrowings_of
from orderlint.proof.prover import LIMITS, Decision, Proof, Prover
from orderlint.proof.suggested_condition import Gating, gating_of, is_closed_choice
from orderlint.proof.unused_options import Choices, choices_of
from orderlint.set_findings import (
    NO_SOUND_ORDER,
    ToldBreak,
    choice_findings,
    clock_findings,
    finding_on_set,
    inactive_on_set,
    is_on_clock,
    not_proved_findings,
    told_break,
)
from orderlint.verification import Verified, verify_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.language.budget import Watched
    from orderlint.proof.search_space import Limits
    from orderlint.rulebook.rule import OrderRule, Rulebook


@dataclass(frozen=True, slots=True)
class Broken(ToldBreak):
    """A rule that an order from the set breaks: the nearest such order, and what `verify` finds.

    `set_finding` is None also where the presets report it. Each of `narrowings` is one change to
    one setting with which no order breaks the rule, the one that keeps most first; of others it is
    not known if `is_open`. `gating` is a condition that would do as well, if one was found.
    """

    rule: OrderRule
    nearest: Counterexample
    narrowings: tuple[Narrowing, ...]
    is_open: bool = False
    gating: Gating | None = None

    @property
    def is_narrowed(self) -> bool:
        """Whether its first narrowing leaves the preset, and the rule may still arise with it."""
        return bool(self.narrowings) and self.narrowings[0].is_plain


@dataclass(frozen=True, slots=True)
class Reviewed:
    """What can come of an order set, under one rulebook.

    `assessment` has all that is to be asked of the author, and the rules that some order may leave
    unchecked, with the settings for lack of which. `presets` is what `verify` says of the
    presets signed as they stand, `to_fill` the settings in it that somebody must fill in first.
    `together` is, where several rules are broken, the first narrowing of each joined to one change
    with which all of them are proved; empty where there is none. `proofs` has every rule with a
    condition. `choices` says which options no sound order has, None
    where the set does not say what it can yield; `count` is how many different orders that is.
    """

    file: str
    order_set: OrderSet
    assessment: Assessment
    presets: Verified
    to_fill: tuple[str, ...]
    proofs: tuple[Proof, ...]
    broken: tuple[Broken, ...]
    together: tuple[Narrowing, ...]
    choices: Choices | None
    count: Count
    rulebook: Rulebook

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """The free texts of the set that are not understood whole, or say something else."""
        return tuple(texts_not_checked(self.order_set))


def review_set(
    order_set: OrderSet,
    at: int,
    book: Rulebook,
    limits: Limits = LIMITS,
    watched: Watched = iter,
) -> Reviewed:
    """Review an order set as of `at`, milliseconds since 1970 UTC.

    `book` has the rules on order sets, as `load("order-set")` gives it. `watched` yields what it is
    given again, so that a caller can show progress.
    """
    order_set = with_controller_steps(order_set, book)
    order = preset_order(order_set)
    of_presets = verify_order(order, at, book)
    rules = book.order_rules
    prover = Prover(order_set, rules, limits)
    proofs = tuple(prover.decide(rule) for rule in watched(rules))
    parts = tuple(_decided_by_suppression(proofs, prover, at, book))
    broken = tuple(_broken(watched(parts), prover, of_presets, at, book))
    asked = [split_by_suppression(rule, book, at)[0] for rule in rules]
    choices = None if order_set.unsettled else choices_of(prover, asked)
    of_choices = choices and choice_findings(choices, prover.no_answer, order, book)
    decided = [proof for _, proof in parts]
    found = [
        *_as_written(order_set, order, at, book),
        *_in_presets(of_presets, order, book),
        *clock_findings(of_presets, book),
        *(item.set_finding for item in broken if item.set_finding),
        *not_proved_findings(_reasons(decided), order, book),
        *(of_choices or ()),
    ]
    # That no sound order can be signed comes first: no mend of one option changes it.
    found.sort(key=lambda finding: finding.rule != NO_SOUND_ORDER)
    return Reviewed(
        file=order_set.file,
        order_set=order_set,
        assessment=_assessment(order_set, found, decided, _suppressed(of_presets, broken), book),
        presets=of_presets,
        to_fill=to_fill(order_set, order),
        proofs=proofs,
        broken=broken,
        together=_joint_narrowing(prover, broken),
        choices=choices,
        count=count(order_set),
        rulebook=book,
    )


def _assessment(
    order_set: OrderSet,
    found: Iterable[Finding],
    decided: Sequence[Proof],
    suppressed: tuple[Suppressed, ...],
    book: Rulebook,
) -> Assessment:
    """The assessment of what was found, with the rules that some order may leave unchecked."""
    rules = book.order_rules
    return assessment_of(
        found,
        tuple(_unchecked_rules(decided, book)),
        tuple(inactive_on_set(rules, order_set)),
        suppressed,
        sum(1 for rule in rules if rule.instances),
    )


def _unchecked_rules(proofs: Iterable[Proof], book: Rulebook) -> Iterator[Unchecked]:
    """The rules that some order may leave unchecked, suppressed or not, with the settings."""
    missing: dict[str, dict[str, None]] = {}
    for proof in proofs:
        if proof.result is Decision.UNDETERMINED:
            missing.setdefault(proof.rule, {}).update(dict.fromkeys(proof.missing))
    for rule, paths in missing.items():
        yield Unchecked(rule, book.rules[rule].level, tuple(paths))


def _suppressed(of_presets: Verified, broken: tuple[Broken, ...]) -> tuple[Suppressed, ...]:
    """What the policy suppresses in the presets or in the nearest order that breaks a rule."""
    in_presets = {
        (item.finding.rule, item.finding.path) for item in of_presets.assessment.suppressed
    }
    reachable = (item.suppressed for item in broken if item.suppressed)
    new = (item for item in reachable if (item.finding.rule, item.finding.path) not in in_presets)
    return (*of_presets.assessment.suppressed, *new)


def _decided_by_suppression(
    proofs: Iterable[Proof], prover: Prover, at: int, book: Rulebook
) -> Iterator[tuple[OrderRule, Proof]]:
    """What became of each rule where a suppression silences it, and where none does.

    A policy can accept what is found; it cannot accept what is unknown.
    """
    rules = {rule.id: rule for rule in book.order_rules}
    for proof in proofs:
        rule = rules[proof.rule]
        asked, hidden = split_by_suppression(rule, book, at)
        if hidden.instances:
            silenced = prover.decide(hidden)
            yield hidden, silenced
            if silenced.result is Decision.BROKEN:
                yield hidden, prover.decide(definedness_rule(hidden))
        yield asked, proof if asked is rule else prover.decide(asked)


def _broken(
    parts: Iterable[tuple[OrderRule, Proof]],
    prover: Prover,
    presets: Verified,
    at: int,
    book: Rulebook,
) -> Iterator[Broken]:
    """Each counterexample replayed as an order, with what `verify` says of it."""
    in_presets = {finding.rule for finding in presets.assessment.findings}
    order_set = prover.space.order_set
    for rule, proof in parts:
        if proof.result is not Decision.BROKEN:
            continue
        nearest = counterexample_of(prover, rule, proof)
        paths = [path for each in nearest.broken for path in each.paths]
        order = Order(order_set.file, nearest.leaves, (), order_set.places)
        told = told_break(rule.id, paths, order, at, book)
        on_set = None if rule.id in in_presets else told.set_finding
        broken = Broken(told.order_finding, told.suppressed, on_set, rule, nearest, ())
        yield _with_changes(broken, prover) if on_set else broken


def _with_changes(broken: Broken, prover: Prover) -> Broken:
    """With the changes to the set that would do."""
    rule, witness = broken.rule, broken.nearest.whole
    made, is_open = narrowings_of(prover, rule, witness)
    # What a patient is like is no choice of those who keep the set.
    offered = tuple(each for each in made if not within(each.path, "patient"))
    slots = prover.space.order_set.slots
    gating = None
    if not offered or is_closed_choice(slots[offered[0].path]):
        gating = gating_of(prover, rule, prover.rules, witness)
    return replace(broken, narrowings=offered, is_open=is_open, gating=gating)


def _joint_narrowing(prover: Prover, broken: Iterable[Broken]) -> tuple[Narrowing, ...]:
    """The narrowings that are named, as one change, where they are more than one.

    Without those that move a preset, or with which a rule can no longer arise: these would take
    away most of what the others are asked for.
    """
    named = [(item.rule, item.narrowings[0]) for item in broken if item.is_narrowed]
    if not named or all(made == named[0][1] for _, made in named):
        return ()
    return meet(prover, [rule for rule, _ in named], [made for _, made in named])


def _as_written(order_set: OrderSet, order: Order, at: int, book: Rulebook) -> Iterator[Finding]:
    """What is wrong with the set as it is written. Its author is asked, whoever wrote no order."""
    faults = (*order_set.faults, *set_faults(order_set, book, at))
    found = findings_of_faults(faults, order, book, apart=True)
    return (finding._replace(ask_whom="author") for finding in found)


def _in_presets(of_presets: Verified, order: Order, book: Rulebook) -> Iterator[Finding]:
    """What the presets break, and what is wrong with the policy.

    What reading finds in them is a finding on the set as it is written.
    """
    for finding in of_presets.assessment.findings:
        found_by = book.rules[finding.rule].found_by
        if found_by == "condition" and not is_on_clock(book.rules[finding.rule]):
            yield finding_on_set(finding, "preset-breaks-rule", order, book)
        elif found_by == "policy":
            yield finding


def _reasons(proofs: Iterable[Proof]) -> dict[str, str]:
    """Why rules were not proved, by rule."""
    return {p.rule: "; ".join(p.reasons) for p in proofs if p.result is Decision.NOT_PROVED}
