"""An order set in; out come the proof of each rule, or the nearest order that breaks it.

Joins reading, hygiene, proof and the verdict on an order. Never a word beside the rule files' own.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from orderlint.assessment import (
    Assessment,
    assessment_of,
    definedness_rule,
    findings_of_faults,
    reported_for,
    split_by_suppression,
)
from orderlint.fields import field_table, in_sentence
from orderlint.finding import Fault, Suppressed, Unchecked
from orderlint.order import Order
from orderlint.order_set.hygiene import set_faults
from orderlint.order_set.model import within
from orderlint.order_set.presets import preset_order
from orderlint.order_set.read import read_order_set
from orderlint.proof import (
    Prover,
    Result,
    choices_of,
    count,
    counterexample_of,
    meet,
    narrowings_of,
)
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.set_findings import (
    finding_on_set,
    inactive_on_set,
    not_proved_finding,
    not_proved_findings,
)
from orderlint.verification import verify_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.finding import Finding
    from orderlint.order_set.model import OrderSet
    from orderlint.proof import Choices, Count, Counterexample, Narrowing, Proof
    from orderlint.rulebook.rule import OrderRule, Rulebook
    from orderlint.verification import Verified


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule that an order from the set breaks: the nearest such order, and what `verify` finds.

    `order_finding`: what `verify` finds on that order, by this rule or by one that covers it. None
    where the policy suppresses it; then `suppressed` has it. `set_finding`: the finding on the set.
    None where the presets or the rule that covers it report it already. Each of `narrowings` is one
    change to one setting with which the rule is proved, the one that keeps most first.
    """

    rule: OrderRule
    nearest: Counterexample
    order_finding: Finding | None
    suppressed: Suppressed | None
    set_finding: Finding | None
    narrowings: tuple[Narrowing, ...]


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


def review(data: bytes, file: str, at: int, rulebook: Rulebook | None = None) -> Reviewed:
    """Review one order set.

    `data` is the file's bytes, YAML or JSON; `file` its name for places; `at` the instant of
    checking in milliseconds since 1970 UTC. Raises Refused where the file is not an order set.
    """
    book = rulebook or load("order-set")
    return review_set(read_order_set(read(data, file, "order-set"), book.derived), at, book)


def review_set(order_set: OrderSet, at: int, book: Rulebook) -> Reviewed:
    """Review an order set that has been read, with the rules on order sets in `book`."""
    signed = preset_order(order_set)
    of_presets = verify_order(signed.order, at, book)
    rules = book.order_rules
    prover = Prover(order_set, rules)
    proofs = tuple(prover.decide(rule) for rule in rules)
    parts = tuple(_decided_by_suppression(proofs, prover, at, book))
    replay = _Replay(
        prover, signed.order, frozenset(f.rule for f in of_presets.assessment.findings), at, book
    )
    broken = tuple(_broken(*part, replay) for part in parts if part[1].result is Result.BROKEN)
    choices = (
        None
        if order_set.unsettled
        else choices_of(prover, [split_by_suppression(rule, book, at)[0] for rule in rules])
    )
    found = [
        *_findings_as_written(
            (*order_set.faults, *set_faults(order_set, book, at)), signed.order, book
        ),
        *_in_presets(of_presets, signed.order, book),
        *(item.set_finding for item in broken if item.set_finding),
        *_not_proved([proof for _, proof in parts], signed.order, book),
        *(
            findings_of_faults(_choice_faults(choices, order_set), signed.order, book)
            if choices
            else ()
        ),
        *(_search_left_open(choices, prover.no_answer, signed.order, book) if choices else ()),
    ]
    assessment = assessment_of(
        found,
        tuple(_unchecked_rules([proof for _, proof in parts], book)),
        tuple(inactive_on_set(rules, order_set)),
        _suppressed(of_presets, broken),
        sum(1 for rule in rules if rule.instances),
    )
    return Reviewed(
        order_set.file,
        order_set,
        assessment,
        of_presets,
        signed.to_fill,
        proofs,
        broken,
        _joint_narrowing(prover, broken),
        choices,
        count(order_set),
        book,
    )


class _Replay(NamedTuple):
    """What a broken rule is held against; `in_presets` are the rules found in the presets."""

    prover: Prover
    presets: Order
    in_presets: frozenset[str]
    at: int
    book: Rulebook


def _unchecked_rules(proofs: Iterable[Proof], book: Rulebook) -> Iterator[Unchecked]:
    """The rules that some order may leave unchecked, suppressed or not, with the settings."""
    missing: dict[str, dict[str, None]] = {}
    for proof in proofs:
        if proof.result is Result.UNDETERMINED:
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

    A policy accepts what is found; it cannot accept what nobody knows.
    """
    rules = {rule.id: rule for rule in book.order_rules}
    for proof in proofs:
        rule = rules[proof.rule]
        asked, hidden = split_by_suppression(rule, book, at)
        if hidden.instances:
            silenced = prover.decide(hidden)
            yield hidden, silenced
            if silenced.result is Result.BROKEN:
                yield hidden, prover.decide(definedness_rule(hidden))
        yield asked, proof if asked is rule else prover.decide(asked)


def _broken(rule: OrderRule, proof: Proof, replay: _Replay) -> Broken:
    """The counterexample replayed as an order, with what `verify` says of it."""
    prover, presets, in_presets, at, book = replay
    nearest = counterexample_of(prover, rule, proof)
    verified = verify_order(Order(presets.file, nearest.leaves, (), presets.places), at, book)
    paths = [path for each in nearest.broken for path in each.paths]
    heard = reported_for(rule.id, paths, verified.assessment, book)
    found, hidden = (None, heard) if isinstance(heard, Suppressed) else (heard, None)
    is_new = found is not None and found.rule == rule.id and rule.id not in in_presets
    said = (
        finding_on_set(found, "reachable-order-breaks-rule", presets, book)
        if found and is_new
        else None
    )
    narrowings = narrowings_of(prover, rule, nearest.whole) if said else ()
    # What a patient is like is no choice of those who keep the set.
    narrowings = tuple(made for made in narrowings if not within(made.path, "patient"))
    return Broken(rule, nearest, found, hidden, said, narrowings)


def _joint_narrowing(prover: Prover, broken: Iterable[Broken]) -> tuple[Narrowing, ...]:
    """The narrowings that are named, as one change, where they are more than one."""
    named = [(item.rule, item.narrowings[0]) for item in broken if item.narrowings]
    if not named or all(made == named[0][1] for _, made in named):
        return ()
    return meet(prover, [rule for rule, _ in named], [made for _, made in named])


def _findings_as_written(
    faults: Iterable[Fault], order: Order, book: Rulebook
) -> Iterator[Finding]:
    """What is wrong with the set as it is written. Its author is asked, whoever wrote no order."""
    return (found._replace(ask_whom="author") for found in findings_of_faults(faults, order, book))


def _in_presets(of_presets: Verified, order: Order, book: Rulebook) -> Iterator[Finding]:
    """What the presets break, and what is wrong with the policy.

    What reading finds in them is said of the set as it is written.
    """
    for finding in of_presets.assessment.findings:
        found_by = book.rules[finding.rule].found_by
        if found_by == "condition":
            yield finding_on_set(finding, "preset-breaks-rule", order, book)
        elif found_by == "policy":
            yield finding


def _not_proved(proofs: Iterable[Proof], order: Order, book: Rulebook) -> Iterator[Finding]:
    reasons = {p.rule: "; ".join(p.reasons) for p in proofs if p.result is Result.NOT_PROVED}
    return not_proved_findings(reasons, order, book)


def _choice_faults(choices: Choices, order_set: OrderSet) -> Iterator[Fault]:
    """What no sound order has, and what no order shows."""
    if choices.sound is None and not choices.sound_is_open:
        details = {"because": _rules_in_the_way(choices.rules_against)}
        yield Fault("no-sound-order-exists", "", "", order_set.place_of(""), details)
    for item in choices.never_sound:
        if not item.is_confirmed:  # then it is only said that it was not settled
            continue
        place = item.leaf.place or order_set.place_of(item.path)
        details = {
            "name": in_sentence(field_table().trade_name(item.path)),
            "written": item.leaf.text or "nothing",
            "because": _rules_in_the_way(item.rules),
        }
        yield Fault("choice-never-sound", item.path, item.leaf.text, place, details)
    for path in choices.never_shown:
        details = {"name": in_sentence(field_table().trade_name(path))}
        yield Fault("section-never-shown", path, "", order_set.place_of(path), details)


def _search_left_open(
    choices: Choices, why: str, order: Order, book: Rulebook
) -> Iterator[Finding]:
    """What the search for sound orders left open, and why: unknown is no pass."""
    if choices.sound_is_open:
        yield not_proved_finding("That some order from the set is sound", why, order, book)
    one_way = [(item.path, item.index) for item in choices.never_sound if not item.is_confirmed]
    left = Counter(path for path, _ in (*choices.open, *one_way))
    if left:
        names = (
            f"{count} of the {in_sentence(field_table().trade_name(path))}"
            for path, count in left.items()
        )
        said = f"the search ended before these were settled: {', '.join(names)}"
        yield not_proved_finding("That each option stands in some sound order", said, order, book)
    if choices.shown_is_open:
        yield not_proved_finding("That each section can be shown", why, order, book)


def _rules_in_the_way(rules: tuple[str, ...]) -> str:
    return f"What stands in the way: {', '.join(rules)}." if rules else ""
