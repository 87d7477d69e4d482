"""An order set in; out come the proof of each rule, or the nearest order that breaks it.

Joins reading, hygiene, proof and the verdict on an order. Never a word beside the rule files' own.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from orderlint.assessment import apart, known, speaking_for
from orderlint.fields import field_table, in_sentence
from orderlint.finding import Fault, Inactive, Suppressed, Unchecked, verdict_of
from orderlint.language.evaluate import evaluate
from orderlint.order import Order
from orderlint.order_set.hygiene import hygiene
from orderlint.order_set.model import within
from orderlint.order_set.presets import presets
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
from orderlint.set_findings import about, not_proved, unproved
from orderlint.verification import verify_order, worded

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.finding import Finding, Verdict
    from orderlint.language.tree import Member
    from orderlint.order_set.model import OrderSet
    from orderlint.proof import Choices, Count, Counterexample, Narrowing, Proof
    from orderlint.rulebook.rule import Rule, Rulebook
    from orderlint.verification import Verified


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule that an order from the set breaks: the nearest such order, and what `verify` finds.

    `found` is the finding of the rule itself or of one that covers it; where the policy suppresses
    it, it is None and `suppressed` says so. `said` is what is said of the set for it; None where it
    is said already, of the presets or under the rule that covers it. Each of `narrowings` is one
    change to one setting with which the rule is proved, the one that keeps most first.
    """

    rule: Rule
    nearest: Counterexample
    found: Finding | None
    suppressed: Suppressed | None
    said: Finding | None
    narrowings: tuple[Narrowing, ...]


@dataclass(frozen=True, slots=True)
class Reviewed:
    """What can come of an order set, under one rulebook.

    `findings` are all that is to be asked of the author; `unchecked` the rules that some order may
    leave unchecked, with the settings for lack of which. `presets` is what `verify` says of the
    presets signed as they stand, `to_fill` the settings in it that somebody must fill in first.
    `together` is, where several rules are broken, the first narrowing of each joined to one change
    with which all of them are proved; empty where there is none. `proofs` has every rule with a
    condition. `choices` says which options no sound order has, None
    where the set does not say what it can yield; `count` is how many different orders that is.
    """

    file: str
    order_set: OrderSet
    verdict: Verdict
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    inactive: tuple[Inactive, ...]
    suppressed: tuple[Suppressed, ...]
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
    order_set = read_order_set(read(data, file, "order-set"), book.derived)
    signed = presets(order_set)
    of_presets = verify_order(signed.order, at, book)
    rules = [rule for rule in book.rules.values() if rule.instances or rule.inactive]
    prover = Prover(order_set, rules)
    proofs = tuple(prover.decide(rule) for rule in rules)
    parts = tuple(_parts(proofs, prover, at, book))
    replay = _Replay(prover, signed.order, frozenset(f.rule for f in of_presets.findings), at, book)
    broken = tuple(_broken(*part, replay) for part in parts if part[1].result is Result.BROKEN)
    choices = (
        None
        if order_set.unsettled
        else choices_of(prover, [apart(rule, book, at)[0] for rule in rules])
    )
    found = [
        *_as_written((*order_set.faults, *hygiene(order_set, book, at)), signed.order, book),
        *_in_presets(of_presets, signed.order, book),
        *(item.said for item in broken if item.said),
        *_not_proved([proof for _, proof in parts], signed.order, book),
        *(worded(_unsound(choices, order_set), signed.order, book) if choices else ()),
        *(_unsettled(choices, prover.no_answer, signed.order, book) if choices else ()),
    ]
    findings = tuple(sorted(found, key=_weight))
    unchecked = tuple(_left_open([proof for _, proof in parts], book))
    suppressed = _suppressed(of_presets, broken)
    return Reviewed(
        file,
        order_set,
        verdict_of(findings, unchecked, suppressed),
        findings,
        unchecked,
        tuple(_not_asked(rules, order_set)),
        suppressed,
        of_presets,
        signed.to_fill,
        proofs,
        broken,
        _together(prover, broken),
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


def _weight(finding: Finding) -> int:
    return -finding.level.weight


def _left_open(proofs: Iterable[Proof], book: Rulebook) -> Iterator[Unchecked]:
    """The rules that some order may leave unchecked, suppressed or not, with the settings."""
    missing: dict[str, dict[str, None]] = {}
    for proof in proofs:
        if proof.result is Result.UNDETERMINED:
            missing.setdefault(proof.rule, {}).update(dict.fromkeys(proof.missing))
    for rule, paths in missing.items():
        yield Unchecked(rule, book.rules[rule].level, tuple(paths))


def _not_asked(rules: Iterable[Rule], order_set: OrderSet) -> Iterator[Inactive]:
    """The rules that are not asked of some order from the set, with the reasons."""
    for rule in rules:
        for item in dict.fromkeys(rule.skipped):
            if item.applies_if is None or _bears(item.applies_if, order_set):
                yield Inactive(rule.id, item.reason)


def _bears(choice: Member, order_set: OrderSet) -> bool:
    """Whether a choice may be so on some order from the set, whatever stands beside it."""
    path = choice.subject.path
    options = order_set.slots[path].options
    return any(evaluate(choice, {path: leaf}) is not False for leaf in options)


def _suppressed(of_presets: Verified, broken: tuple[Broken, ...]) -> tuple[Suppressed, ...]:
    """What the policy suppresses in the presets or in the nearest order that breaks a rule."""
    known = {(item.finding.rule, item.finding.path) for item in of_presets.suppressed}
    reachable = (item.suppressed for item in broken if item.suppressed)
    new = (item for item in reachable if (item.finding.rule, item.finding.path) not in known)
    return (*of_presets.suppressed, *new)


def _parts(
    proofs: Iterable[Proof], prover: Prover, at: int, book: Rulebook
) -> Iterator[tuple[Rule, Proof]]:
    """What became of each rule where a suppression silences it, and where none does.

    A policy accepts what is found; it cannot accept what nobody knows.
    """
    for proof in proofs:
        rule = book.rules[proof.rule]
        asked, hidden = apart(rule, book, at)
        if hidden.instances:
            silenced = prover.decide(hidden)
            yield hidden, silenced
            if silenced.result is Result.BROKEN:
                yield hidden, prover.decide(known(hidden))
        yield asked, proof if asked is rule else prover.decide(asked)


def _broken(rule: Rule, proof: Proof, replay: _Replay) -> Broken:
    """The counterexample replayed as an order, with what `verify` says of it."""
    prover, presets, in_presets, at, book = replay
    nearest = counterexample_of(prover, rule, proof)
    verified = verify_order(Order(presets.file, nearest.leaves, (), presets.places), at, book)
    paths = [path for each in nearest.broken for path in each.paths]
    heard = speaking_for(rule.id, paths, verified.findings, verified.suppressed, book)
    found, hidden = (None, heard) if isinstance(heard, Suppressed) else (heard, None)
    is_new = found is not None and found.rule == rule.id and rule.id not in in_presets
    said = about(found, "reachable-order-breaks-rule", presets, book) if found and is_new else None
    narrowings = narrowings_of(prover, rule, nearest.whole) if said else ()
    # What a patient is like is no choice of those who keep the set.
    narrowings = tuple(made for made in narrowings if not within(made.path, "patient"))
    return Broken(rule, nearest, found, hidden, said, narrowings)


def _together(prover: Prover, broken: Iterable[Broken]) -> tuple[Narrowing, ...]:
    """The narrowings that are named, as one change, where they are more than one."""
    named = [(item.rule, item.narrowings[0]) for item in broken if item.narrowings]
    if not named or all(made == named[0][1] for _, made in named):
        return ()
    return meet(prover, [rule for rule, _ in named], [made for _, made in named])


def _as_written(faults: Iterable[Fault], order: Order, book: Rulebook) -> Iterator[Finding]:
    """What is wrong with the set as it is written. Its author is asked, whoever wrote no order."""
    return (found._replace(ask_whom="author") for found in worded(faults, order, book))


def _in_presets(of_presets: Verified, order: Order, book: Rulebook) -> Iterator[Finding]:
    """What the presets break, and what is wrong with the policy.

    What reading finds in them is said of the set as it is written.
    """
    for finding in of_presets.findings:
        found_by = book.rules[finding.rule].found_by
        if found_by is None:
            yield about(finding, "preset-breaks-rule", order, book)
        elif found_by == "policy":
            yield finding


def _not_proved(proofs: Iterable[Proof], order: Order, book: Rulebook) -> Iterator[Finding]:
    reasons = {p.rule: "; ".join(p.reasons) for p in proofs if p.result is Result.NOT_PROVED}
    return not_proved(reasons, order, book)


def _unsound(choices: Choices, order_set: OrderSet) -> Iterator[Fault]:
    """What no sound order has, and what no order shows."""
    if choices.sound is None and not choices.sound_is_open:
        details = {"because": _because(choices.rules_against)}
        yield Fault("no-sound-order-exists", "", "", order_set.place_of(""), details)
    for item in choices.never_sound:
        if not item.is_confirmed:  # then it is only said that it was not settled
            continue
        place = item.leaf.place or order_set.place_of(item.path)
        details = {
            "name": in_sentence(field_table().trade_name(item.path)),
            "written": item.leaf.text or "nothing",
            "because": _because(item.rules),
        }
        yield Fault("choice-never-sound", item.path, item.leaf.text, place, details)
    for path in choices.never_shown:
        details = {"name": in_sentence(field_table().trade_name(path))}
        yield Fault("section-never-shown", path, "", order_set.place_of(path), details)


def _unsettled(choices: Choices, why: str, order: Order, book: Rulebook) -> Iterator[Finding]:
    """What the search for sound orders left open, and why: unknown is no pass."""
    if choices.sound_is_open:
        yield unproved("That some order from the set is sound", why, order, book)
    one_way = [(item.path, item.index) for item in choices.never_sound if not item.is_confirmed]
    left = Counter(path for path, _ in (*choices.open, *one_way))
    if left:
        names = (
            f"{count} of the {in_sentence(field_table().trade_name(path))}"
            for path, count in left.items()
        )
        said = f"the search ended before these were settled: {', '.join(names)}"
        yield unproved("That each option stands in some sound order", said, order, book)
    if choices.shown_is_open:
        yield unproved("That each section can be shown", why, order, book)


def _because(rules: tuple[str, ...]) -> str:
    return f"What stands in the way: {', '.join(rules)}." if rules else ""
