"""Finds the acts that a sentence orders: clamping, flushing, moving the drain, changing the rate.

Never a number, and never whether an act agrees with a setting.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, NamedTuple

from orderlint.mentions.tokens import COMMA, COUNT, Token
from orderlint.mentions.words import (
    ACTS,
    AFTER,
    AFTERWARDS,
    BEFORE,
    BEING,
    BOLUS,
    CALLING,
    CLAMP,
    CONTEXTS,
    FILLERS,
    FLUSH,
    FORBIDDEN,
    IF,
    NEGATORS,
    NOT_THE_DRAIN,
    OF_DRAIN,
    OPEN,
    OTHER_BOLUSES,
    OTHER_LINES,
    REFUSED,
    SCHEDULES,
    STAFF,
    STATES,
    TRANSPORT,
    UNCLAMP,
    UNLESS,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


_NEAR = 6
"""Most words between an act and its object, its negation, or when it is done."""
_LINKS = frozenset({"and", "or", "nor", "then"})


class FoundAct(NamedTuple):
    """An act of a sentence: the first and last of its tokens, and the rest as in Mention."""

    name: str
    first: int
    last: int
    verb: int
    context: str = ""
    asks: bool = True


def acts_in(sentence: Sequence[Token]) -> Iterator[FoundAct]:
    """The acts that a sentence orders; none that it negates, or for which somebody is called."""
    candidates = [act for act in _candidates(sentence) if not _is_an_event(sentence, act)]
    found = sorted(candidates, key=lambda act: act.verb)
    before: FoundAct | None = None
    is_negated = is_clamped = False
    for at, act in enumerate(found):
        linked = before is not None and _is_listed(sentence, before, act, found[at + 1 : at + 2])
        is_negated = _is_negated(sentence, act) or (is_negated and linked)
        made = _judged(sentence, act, is_negated)
        if (
            made
            and made.name in (OPEN, UNCLAMP)
            and not made.context
            and is_clamped
            and not is_negated
        ):
            made = made._replace(context=AFTERWARDS)
        if made:
            yield made
            is_clamped = is_clamped or (made.name == CLAMP and made.context == TRANSPORT)
        before = act


def _judged(sentence: Sequence[Token], act: FoundAct, is_negated: bool) -> FoundAct | None:
    """An act with when it is done and whether it is asked about; None if it is not to be done."""
    meant = ACTS[act.name]
    if is_negated and meant.negatable:
        is_conditional = _any_after(sentence, act.last, UNLESS)
        return act._replace(asks=False) if is_conditional else None
    if is_negated:
        return act
    asks = meant.asks and not _is_left_to_staff(sentence, act)
    return act._replace(context=_context(sentence, act), asks=asks)


def _candidates(sentence: Sequence[Token]) -> Iterator[FoundAct]:
    verbs = _verbs()
    for at, token in enumerate(sentence):
        for name in verbs.get(token.text, ()):
            objects = ACTS[name].objects
            thing = _object(sentence, at, objects, is_far=ACTS[name].far) if objects else at
            if thing is not None and not _is_of_another_line(sentence, at, name):
                yield FoundAct(name, min(at, thing), max(at, thing), at)


@functools.cache
def first_words() -> frozenset[str]:
    """The first word of each verb: a text without any orders no act."""
    return frozenset(verb.split()[0] for verb in _verbs())


@functools.cache
def _verbs() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, act in ACTS.items():
        for verb in act.verbs:
            found.setdefault(verb, []).append(name)
    return found


def _text(sentence: Sequence[Token], at: int) -> str:
    return sentence[at].text if 0 <= at < len(sentence) else ""


def _object(
    sentence: Sequence[Token], verb: int, objects: tuple[str, ...], *, is_far: bool
) -> int | None:
    """The object after a verb, or before it where something is done to it."""
    for at in range(verb + 1, min(verb + 1 + _NEAR, len(sentence))):
        if sentence[at].text in objects:
            return at
        text = sentence[at].text
        is_near = text in FILLERS or text in _LINKS or text in _verbs()
        if not is_near and (sentence[at].kind == COMMA or not is_far):
            break
    if not (sentence[verb].text.endswith("ed") or sentence[verb].text in STATES):
        return None
    for at in range(verb - 1, max(verb - 1 - _NEAR, -1), -1):
        if sentence[at].text in objects:
            return at
        if sentence[at].text not in BEING and sentence[at].text not in NEGATORS:
            break
    return None


def _is_of_another_line(sentence: Sequence[Token], at: int, name: str) -> bool:
    """True if another line is clamped, flushed or given a bolus, or if a patient is."""
    if name == FLUSH and _text(sentence, at - 1) in NOT_THE_DRAIN:
        return True
    near = {token.text for token in sentence[max(0, at - 4) : at + 5]}
    if name == BOLUS and near & OTHER_BOLUSES:
        return True
    of_lines = name in (CLAMP, FLUSH, BOLUS) and bool(near & OTHER_LINES)
    return of_lines and not near.intersection(OF_DRAIN)


def _is_negated(sentence: Sequence[Token], act: FoundAct) -> bool:
    """True if a negation stands before an act or after it, or if somebody is called before it."""
    for at in range(act.first - 1, max(act.first - 2 - _NEAR, -1), -1):
        text = sentence[at].text
        if text in NEGATORS or text.endswith("n't"):
            return True
        if text in ("or", "nor"):  # as in: do not aspirate or flush
            near = [token.text for token in sentence[max(0, at - 3) : at]]
            return any(word in NEGATORS or word.endswith("n't") for word in near)
        if text in BEFORE:
            return _any_before(sentence, at, CALLING, 2 * _NEAR)
        if text not in FILLERS and text not in ACTS[act.name].objects:
            break
    return _is_negated_inside(sentence, act) or _is_refused(sentence, act.last + 1)


def _is_an_event(sentence: Sequence[Token], act: FoundAct) -> bool:
    """As in: call if the drain is clamped. Or: if clamped, call."""
    if not sentence[act.verb].text.endswith("ed"):
        return False
    for at in range(act.first - 1, max(act.first - 2 - _NEAR, -1), -1):
        text = sentence[at].text
        if text in IF:
            is_first = at == act.first - 1
            return _any_before(sentence, at, CALLING, _NEAR) or (
                is_first and _any_after(sentence, act.last, CALLING)
            )
        if text in _LINKS or sentence[at].kind == COMMA:
            return False
    return False


def _is_negated_inside(sentence: Sequence[Token], act: FoundAct) -> bool:
    """As in: the drain is not to be raised."""
    inside = (sentence[at].text for at in range(act.first + 1, act.verb))
    return any(text in NEGATORS or text.endswith("n't") for text in inside)


def _is_refused(sentence: Sequence[Token], at: int) -> bool:
    """As in: clamping is not allowed, flushing is forbidden."""
    while _text(sentence, at) in FILLERS:
        at += 1
    if _text(sentence, at) in NEGATORS:
        return _text(sentence, at + 1) in REFUSED or at + 1 >= len(sentence)
    return _text(sentence, at) in FORBIDDEN


def _is_listed(
    sentence: Sequence[Token], before: FoundAct, act: FoundAct, later: Sequence[FoundAct]
) -> bool:
    """True if two acts stand in one list that ends in "or": clamp, flush or raise the drain."""
    between = _between(sentence, before, act)
    if any(token.text in ("or", "nor") for token in between):
        return _holds_only(between, before)
    if not later or not all(token.kind == COMMA or token.text in FILLERS for token in between):
        return False
    after = _between(sentence, act, later[0])
    return any(token.text in ("or", "nor") for token in after) and _holds_only(after, act)


def _between(sentence: Sequence[Token], one: FoundAct, other: FoundAct) -> Sequence[Token]:
    between = sentence[one.verb + 1 : other.verb]
    return between if len(between) <= _NEAR else ()


def _holds_only(between: Sequence[Token], act: FoundAct) -> bool:
    """True if nothing stands between two acts but a list's words and the object of the first."""
    allowed = FILLERS | {"or", "nor", ",", *ACTS[act.name].objects}
    return all(token.text in allowed for token in between)


def _context(sentence: Sequence[Token], act: FoundAct) -> str:
    """When an act is done, by the nearest word after it, else before it.

    Empty where no word says so, and where a time of day beside it says something else as well.
    """
    near = sentence[max(0, act.first - _NEAR) : act.last + _NEAR]
    if any(token.text in SCHEDULES or token.dimension == COUNT for token in near):
        return ""
    ways = (range(act.last + 1, len(sentence)), range(act.first - 1, -1, -1))
    for way in ways:
        for at in way[: _NEAR + 1]:
            if sentence[at].text in _LINKS:
                break
            for context, words in CONTEXTS.items():
                if sentence[at].text in words:
                    if _any_before(sentence, at, UNLESS, 2):
                        return ""
                    is_after = _any_before(sentence, at, AFTER, 2)
                    return {TRANSPORT: AFTERWARDS}.get(context, "") if is_after else context
    return ""


def _is_left_to_staff(sentence: Sequence[Token], act: FoundAct) -> bool:
    """As in: flushing by neurosurgery only."""
    near = sentence[max(0, act.first - _NEAR) : act.last + 1 + _NEAR]
    return any(token.text == "only" for token in near) and any(t.text in STAFF for t in near)


def _any_before(sentence: Sequence[Token], at: int, words: frozenset[str], most: int) -> bool:
    near = sentence[max(0, at - most) : at]
    return any(token.text in words for token in near)


def _any_after(sentence: Sequence[Token], at: int, words: frozenset[str]) -> bool:
    near = sentence[at + 1 : at + 1 + _NEAR]
    return any(token.text in words for token in near)
