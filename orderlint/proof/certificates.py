"""What is needed to check proofs again with the evaluator alone, as plain data, and that check.

The check derives from the rules what has to be evaluated, and refuses a certificate that says
otherwise (README.md here has the terms). Never a solver.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from orderlint.language.budget import SPENT
from orderlint.language.tree import Not
from orderlint.order_set.free_texts import texts_not_checked
from orderlint.proof.prover import (
    LIMITS,
    NO_ANSWER,
    TIMED,
    UNSETTLED,
    Decision,
    Proof,
    Prover,
)
from orderlint.proof.search_space import Limits, SlotChoice, TooLarge, leaf_at
from orderlint.rulebook.rule import OrderRule, Rulebook, context_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from orderlint.order_set.model import OrderSet, Slot
    from orderlint.proof.enumeration.monotone import Axis, TriedClause

FORMAT = 2
CLAIMED = {Decision.PROVED.value, Decision.VACUOUS.value}
"""The results that a certificate vouches for; of all others it only says that it does not."""
_MET = {False: Decision.BROKEN, None: Decision.UNDETERMINED}
"""What a rule is that is false, or unknown, at the worst corner."""


class CertificateRefused(Exception):  # noqa: N818 - as a file is refused
    """A certificate that does not vouch for these rules over this set, and why, in words."""


def certificate(
    order_set: OrderSet,
    rulebook: Rulebook,
    proofs: Sequence[Proof],
    digests: Mapping[str, str],
    limits: Limits = LIMITS,
) -> dict[str, Any]:
    """The certificate of some proofs, ready for JSON.

    `digests` has the SHA-256 of the set, the policy and the rulebook by those names, as hex.
    `not_checked` has the set's free texts that are not checked, which no proof covers. For each
    rule it holds the result and, where that is a proof, the facts of signing for whose sake
    some of it is judged later, the clauses of each other condition, the cells of each slot on which
    they depend, the ends that were taken, and how many corners were evaluated; where it was not
    proved, the reasons.
    """
    by_id = {rule.id: rule for rule in rulebook.order_rules}
    rules = [by_id[proof.rule] for proof in proofs]
    prover = Prover(order_set, rules, limits)
    made: dict[str, dict[str, Any]] = {}
    for rule, proof in zip(rules, proofs, strict=True):
        made[rule.id] = {"result": proof.result.value}
        if proof.result.value in CLAIMED:
            made[rule.id] = _rule(prover, rule, proof.result.value)
        elif proof.result is Decision.NOT_PROVED:
            made[rule.id]["reasons"] = [*proof.reasons]
    texts = _texts(order_set)
    return {"certificate": FORMAT, "digests": dict(digests), "not_checked": texts, "rules": made}


def _texts(order_set: OrderSet) -> list[dict[str, str]]:
    """The free texts that name a setting; no proof covers what they say."""
    return [{"path": item.path, "text": item.text} for item in texts_not_checked(order_set)]


def recheck(
    given: Mapping[str, Any],
    order_set: OrderSet,
    rulebook: Rulebook,
    digests: Mapping[str, str],
    limits: Limits = LIMITS,
) -> tuple[Proof, ...]:
    """The results that hold, each proof evaluated anew at all its corners.

    `at_signing` is derived anew; witness, reasons and what is missing are not looked for.

    Raises CertificateRefused where the certificate is for other files, leaves out a rule or adds
    one, or says of any clause, part, end or count what the rules and the set do not. So where it
    claims less of a rule than is found of it.
    """
    _same("its parts", sorted(given), ["certificate", "digests", "not_checked", "rules"])
    _same("the format", given.get("certificate"), FORMAT)
    _same_digests(given.get("digests"), digests)
    _same("the texts that are not checked", given.get("not_checked"), _texts(order_set))
    asked = rulebook.order_rules
    stated = given.get("rules")
    if not isinstance(stated, dict):
        raise CertificateRefused("it has no rules")
    _same("the rules", list(stated), [rule.id for rule in asked])
    prover = Prover(order_set, asked, limits)
    return tuple(_held(prover, rule, stated[rule.id]) for rule in asked)


def _held(prover: Prover, rule: OrderRule, said: object) -> Proof:
    """What a certificate says of a rule, where that holds."""
    result = said.get("result") if isinstance(said, dict) else None
    if not isinstance(said, dict) or result not in [each.value for each in Decision]:
        raise CertificateRefused(f"{rule.id} has no result")
    found = Decision(result)
    left = None if prover.before_signing(rule) else Decision.AT_SIGNING
    unasked = left if rule.instances else Decision.INACTIVE
    if unasked != (found if found in {Decision.INACTIVE, Decision.AT_SIGNING} else None):
        raise CertificateRefused(_otherwise(f"whether {rule.id} is asked"))
    if unasked is not None:
        _same(f"{rule.id}: its parts", list(said), ["result"])
    elif result not in CLAIMED:
        _recheck_unproved(prover, rule, said)
    elif prover.space.order_set.unsettled:
        raise CertificateRefused(f"{rule.id}: {UNSETTLED}")
    else:
        _recheck(prover, rule, said)
    return Proof(rule.id, found, at_signing=prover.facts_at_signing(rule))


def _recheck_unproved(prover: Prover, rule: OrderRule, said: Mapping[str, Any]) -> None:
    """Refuse a rule of which the certificate claims less than is found, or something else."""
    result = Decision(said["result"])
    lowest, reasons = _found_of(prover, rule)
    if result is Decision.NOT_PROVED:
        given = said.get("reasons")
        is_said = isinstance(given, list) and given and {*map(str, given)} <= {*reasons, *_OPEN}
        is_so = sorted(said) == ["reasons", "result"] and is_said and lowest is not False
    elif lowest is True or (reasons and lowest is None):
        # Given up here, it may have been found broken by the solver.
        is_so = list(said) == ["result"] and bool(reasons) and result is Decision.BROKEN
    else:
        is_so = list(said) == ["result"] and result is _MET[lowest]
    if not is_so:
        raise CertificateRefused(f"{rule.id} does not come out as {result.value}")


_OPEN = (NO_ANSWER, TIMED, SPENT)
"""Reasons of the solver's, which nothing but the solver can find again."""


def _found_of(prover: Prover, rule: OrderRule) -> tuple[bool | None, list[str]]:
    """The least value of a rule, and why it was given up if it was."""
    if prover.space.order_set.unsettled:
        return True, [UNSETTLED]
    asked = prover.before_signing(rule)
    lowest, _, reason = prover.by_enumeration([instance.condition for instance in asked])
    contexts = [when for each in asked if (when := context_of(rule, each)) is not None]
    _, _, also = prover.by_enumeration([Not(when) for when in contexts])
    return lowest, [given_up for given_up in (reason, also) if given_up]


def _same_digests(said: object, found: Mapping[str, str]) -> None:
    """Raise, and say which file it is, where the certificate is for another."""
    if isinstance(said, dict):
        others = [name for name in found if said.get(name) != found[name]]
        if others:
            named = " and another ".join(others)
            raise CertificateRefused(f"it was made for another {named}, by the digest")
    _same("the digests", said, dict(found))


def _recheck(prover: Prover, rule: OrderRule, said: Mapping[str, Any]) -> None:
    try:
        derived = _rule(prover, rule, said["result"])
    except TooLarge as given_up:
        raise CertificateRefused(f"{rule.id}: {given_up}") from None
    _same(f"{rule.id}: its parts", sorted(said), sorted(derived))
    for key, found in derived.items():
        _same(f"{rule.id}: its {key}", said[key], found)


def _same(what: str, said: object, found: object) -> None:
    """Raise unless both are the same as JSON, so that true is not 1, nor 1.0, however deep."""
    if not _is_same(said, found):
        raise CertificateRefused(_otherwise(what))


def _is_same(said: object, found: object) -> bool:
    """INVARIANT: it goes no deeper than what was found, however deep the certificate is."""
    if isinstance(found, dict):
        is_like = isinstance(said, dict) and said.keys() == found.keys()
        return is_like and all(_is_same(said[key], found[key]) for key in found)  # type: ignore[index]
    if isinstance(found, list | tuple):
        is_like = isinstance(said, list | tuple) and len(said) == len(found)
        return is_like and all(map(_is_same, said, found))  # type: ignore[call-overload]
    return type(said) is type(found) and said == found


def _otherwise(what: str) -> str:
    return f"{what}: the certificate says otherwise than the rules and files"


def _rule(prover: Prover, rule: OrderRule, result: str) -> dict[str, Any]:
    """One rule's part, with every corner evaluated. CertificateRefused where it is not proved."""
    asked = prover.before_signing(rule)
    met = [prover.minimum(instance.condition) for instance in asked]
    if any(each.lowest is not True for each in met):
        raise CertificateRefused(f"{rule.id} is not kept at every corner")
    contexts = [context_of(rule, instance) for instance in asked]
    speaks = any(when is None or prover.minimum(Not(when)).lowest is False for when in contexts)
    if speaks != (result == Decision.PROVED.value):
        raise CertificateRefused(f"{rule.id}: whether it ever speaks is not as said")
    return {
        "result": result,
        "at_signing": list(prover.facts_at_signing(rule)),
        "conditions": [[_clause(prover, tried) for tried in each.tried] for each in met],
    }


def _clause(prover: Prover, tried: TriedClause) -> dict[str, Any]:
    return {
        "clause": [
            {"atom": as_lists(literal.atom), "negated": not literal.positive}
            for literal in tried.clause
        ],
        "slots": [_axis(prover.space.order_set.slots[axis.path], axis) for axis in tried.axes],
        "ticks": list(tried.sections),
        "corners": tried.corners,
    }


def _axis(slot: Slot, axis: Axis) -> dict[str, Any]:
    parts = [
        {
            "of": "span" if cell.every is None else [_name(slot, each) for each in cell.every],
            "low": _name(slot, cell.low),
            "high": _name(slot, cell.high),
        }
        for cell in axis.cells
    ]
    return {"path": axis.path, "take": axis.direction, "parts": parts}


def _name(slot: Slot, choice: SlotChoice) -> str:
    """A choice with its value, so that an option that was edited is another."""
    leaf = leaf_at(slot, choice)
    index = choice if isinstance(choice, int) else "span"
    flags = "".join(f", {flag}" for flag in sorted(leaf.flags))
    return f"{index}: {leaf.state.value} {leaf.value} {leaf.unit}{flags}, {leaf.text}"


def as_lists(node: object) -> object:
    """A node of a tree as lists, each headed by the name of its kind."""
    if isinstance(node, tuple):
        items: Iterable[object] = (as_lists(item) for item in node)
        named = type(node).__name__
        return [*items] if named == "tuple" else [named, *items]
    return node
