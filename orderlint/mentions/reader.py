"""Finds what a free text mentions of the settings: numbers, and acts, each with where and when.

Word by word within a sentence. What is negated is left out; never what a whole sentence means.
"""

from __future__ import annotations

import functools
from itertools import islice
from typing import TYPE_CHECKING, NamedTuple

from orderlint.mentions import Mention, acts
from orderlint.mentions.number_words import ABOVE, LENGTH, NOW, ONCE, PAST
from orderlint.mentions.order_state import states_in, units_in
from orderlint.mentions.tokens import (
    COMMA,
    COUNT,
    NUMBER,
    SIGNS,
    STOP,
    Token,
    has_number_or,
    tokens_of,
)
from orderlint.mentions.words import (
    ANY,
    CALLING,
    COMPARING,
    FLOWING,
    ICP,
    LIMITS,
    LOW,
    NEGATORS,
    OF_THE_NEXT,
    OTHERS,
    RATE,
    RUNNING,
    SUBJECTS,
    TITRATING,
    TREAT_BELOW,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_OF_NO_SETTING = frozenset({COUNT, "duration", "mass", "angle"})


def mentions_in(text: str) -> tuple[Mention, ...]:
    """All that `text` mentions, in its order. Never raises, whatever the text."""
    found = [*states_in(text), *units_in(text)]
    if not has_number_or(acts.first_words(), text):
        return _in_order(found)
    for sentence, numbers in _numbers(filter(None, _split(tokens_of(text), STOP))):
        span = sentence[0].start, sentence[-1].end
        found += (item._replace(sentence=span) for item in (*numbers, *_acts(sentence)))
    return _in_order(found)


def _in_order(found: Iterable[Mention]) -> tuple[Mention, ...]:
    return tuple(sorted(found, key=lambda item: item.offset))


def _acts(sentence: list[Token]) -> Iterator[Mention]:
    found = list(acts.acts_in(sentence))
    durations = _durations(sentence) if found else ()
    for act in found:
        start, end = sentence[act.first].start, sentence[act.last].end
        made = Mention(start, end - start, act=act.name, context=act.context, asks=act.asks)
        yield made._replace(durations=durations)


def _durations(sentence: list[Token]) -> tuple[Token, ...]:
    """The different times named in a sentence, and no more of them than can be one time limit."""
    times = {(t.number, t.unit): t for t in sentence if t.dimension == "duration"}
    return tuple(islice(times.values(), _MOST_DURATIONS))


_MOST_DURATIONS = 16


def _split(tokens: list[Token], kind: str) -> Iterator[list[Token]]:
    """What stands between the tokens of a kind: sentences between stops, clauses between commas."""
    part: list[Token] = []
    for token in tokens:
        if token.kind == kind:
            yield part
            part = []
        else:
            part.append(token)
    yield part


def _numbers(sentences: Iterable[list[Token]]) -> Iterator[tuple[list[Token], list[Mention]]]:
    """Each sentence with the numbers of settings in it.

    A number belongs to the subject before it in its clause, else to the one after it, else to the
    last one spoken of: in an earlier sentence only if it is bare and compared, as in "above 20".
    """
    earlier, named = "", _owners()
    for sentence in sentences:
        found: list[Mention] = []
        is_continued = False
        for clause in _split(sentence, COMMA):
            owners = [named.get(each.text, "") for each in clause]
            if any(token.kind == NUMBER for token in clause):
                found += _numbers_of_clause(clause, owners, earlier, is_continued=is_continued)
            last = next((owner for owner in reversed(owners) if owner), "")
            earlier, is_continued = last or earlier, is_continued or bool(last)
        yield sentence, found


def _numbers_of_clause(
    clause: list[Token], owners: list[str], earlier: str, *, is_continued: bool
) -> Iterator[Mention]:
    """The numbers of a clause; `is_continued` if its own sentence has spoken of `earlier`."""
    first = next((owner for owner in owners if owner), "")
    is_denied = any(token.text in NEGATORS for token in clause)
    whole = _clause(clause)
    owner = first or (earlier if earlier in SUBJECTS else "")
    for at, token in enumerate(clause):
        owner = owners[at] or owner
        before = clause[at - 1] if at else None
        is_of_next = before is not None and before.text in OF_THE_NEXT
        is_of_next = is_of_next or _is_last_of_count(clause, at)
        if token.kind != NUMBER or (is_of_next and token.dimension not in ANY.paths):
            continue
        if owner == _OTHER and token.dimension == "flow" and not whole.has_other_rate:
            owner = ""
        is_of_owner = first or is_continued or _is_compared(token, before)
        made = _named_number(
            token, _at_most(owner, before) if is_of_owner else "", is_denied=is_denied
        )
        if made:
            yield made._replace(paths=_exact_paths(made, whole, at))


def _is_last_of_count(clause: list[Token], at: int) -> bool:
    """As in: day 2 of 5."""
    texts = [token.text for token in clause[max(0, at - 3) : at]]
    return len(texts) == 3 and texts[0] in OF_THE_NEXT and texts[2] == "of"


class _ClauseContext(NamedTuple):
    """What the words of a clause say of all its numbers: looked for once, whatever their number.

    `told_from` is the first token from which on a number is one that once was. It `has_other_rate`
    if it speaks of something else that has one.
    """

    tokens: list[Token]
    told_from: int
    calls: bool
    has_one_rate: bool
    has_other_rate: bool


def _clause(tokens: list[Token]) -> _ClauseContext:
    words = {token.text for token in tokens}
    past = next((at for at, token in enumerate(tokens) if token.text in PAST), len(tokens))
    told_from = len(tokens) if words & NOW else 0 if words & ONCE else past
    rates = sum(token.kind == NUMBER and token.dimension in {"", "flow"} for token in tokens)
    calls = bool(words & CALLING) and not words & _OF_CONTROLLER
    has_one_rate = rates < 2 and not words & TITRATING
    return _ClauseContext(tokens, told_from, calls, has_one_rate, bool(words & FLOWING))


def _exact_paths(made: Mention, clause: _ClauseContext, at: int) -> tuple[str, ...]:
    """The settings that a number can mean by the other words of its clause; none of a tale."""
    if at >= clause.told_from:
        return ()
    compared = {clause.tokens[at].text, clause.tokens[at - 1].text if at else ""}
    if made.paths == ("drainage.hourly_max",) and compared & LOW:
        return ()
    if made.paths == SUBJECTS[RATE].paths["flow"]:
        return ("irrigation.rate",) if clause.has_one_rate else made.paths
    if clause.calls and made.paths == SUBJECTS[ICP].paths["pressure"]:
        if compared & ABOVE:
            return ("notify.icp_above",)
        return ("notify.icp_below",) if compared & LOW else made.paths
    return made.paths


_OF_CONTROLLER = frozenset(
    word
    for subject in (RUNNING, RATE, "pause limit", "upper pause limit", "lower pause limit")
    for word in SUBJECTS[subject].words
)


def _is_compared(token: Token, before: Token | None) -> bool:
    """True of a bare number after a sign or word that compares."""
    said = token.text in SIGNS or (before is not None and before.text in COMPARING)
    return said and not token.dimension


def _at_most(owner: str, before: Token | None) -> str:
    """What runs "up to" a number runs at a rate, which may be the highest of a titration."""
    return RATE if owner == RUNNING and before is not None and before.text in LIMITS else owner


def _named_number(token: Token, owner: str, *, is_denied: bool) -> Mention | None:
    subject = SUBJECTS.get(owner)
    if owner == _OTHER or token.dimension in _OF_NO_SETTING:
        return None
    if subject is None:
        subject = ANY if token.dimension in ANY.paths else None
    elif token.dimension in ANY.paths and token.dimension not in subject.paths:
        subject = ANY
    if subject is None:
        return None
    dimension = token.dimension or next(iter(subject.paths))
    if dimension == LENGTH:  # a length is a level where it is one of the drain's
        dimension = "pressure"
    if dimension not in subject.paths:
        return None
    paths = subject.paths[dimension]
    placed = token._replace(dimension=dimension)
    if owner == TREAT_BELOW and not is_denied:  # no setting has such a level, whatever the number
        placed = placed._replace(number=None)
    length = token.end - token.start
    return Mention(token.start, length, paths=paths, number=placed, sets=subject.sets)


_OTHER = "other"


@functools.cache
def _owners() -> dict[str, str]:
    """By word the subject that it names, `other` if it is of no setting."""
    named = {word: name for name, subject in SUBJECTS.items() for word in subject.words}
    return {**named, **dict.fromkeys(OTHERS, _OTHER)}
