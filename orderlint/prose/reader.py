"""Finds what a free text names of the settings: numbers, and acts, each with where and when.

Word by word within a sentence. What is negated is left out; never what a whole sentence means.
"""

from __future__ import annotations

import functools
from itertools import islice
from typing import TYPE_CHECKING, NamedTuple

from orderlint.prose import acts
from orderlint.prose.tokens import COMMA, COUNT, NUMBER, STOP, WORD, Token, tokens_of
from orderlint.prose.words import ANY, LENGTH, LIMITS, OTHERS, RATE, RUNNING, SUBJECTS

if TYPE_CHECKING:
    from collections.abc import Iterator

_OF_NO_SETTING = frozenset({COUNT, "duration", "mass", "angle"})


class Named(NamedTuple):
    """A number or an act that a text names, with the offset and length of its words.

    `sentence` has the offsets of the first character of its sentence and of that after the last.
    Of a number: `paths` are the settings that it can mean, `number` its token, with a dimension,
    and `sets` as in Subject. Of an act: `act` is its name, `context` when it is done, `asks`
    whether it is asked about, and `durations` are the times named in its sentence.
    """

    offset: int
    length: int
    sentence: tuple[int, int] = (0, 0)
    paths: tuple[str, ...] = ()
    number: Token | None = None
    sets: bool = False
    act: str = ""
    context: str = ""
    asks: bool = True
    durations: tuple[Token, ...] = ()


def named_in(text: str) -> tuple[Named, ...]:
    """All that `text` names, in its order. Never raises, whatever the text."""
    found: list[Named] = []
    for sentence in _sentences(tokens_of(text)):
        if sentence:
            span = sentence[0].start, sentence[-1].end
            named = (*_numbers(sentence), *_acts(sentence))
            found += (item._replace(sentence=span) for item in named)
    return tuple(sorted(found, key=lambda item: item.offset))


def _acts(sentence: list[Token]) -> Iterator[Named]:
    durations = _durations(sentence)
    for act in acts.acts_in(sentence):
        start, end = sentence[act.first].start, sentence[act.last].end
        made = Named(start, end - start, act=act.name, context=act.context, asks=act.asks)
        yield made._replace(durations=durations)


def _durations(sentence: list[Token]) -> tuple[Token, ...]:
    """The different times named in a sentence, and no more of them than can be one time limit."""
    times = {(t.number, t.unit): t for t in sentence if t.dimension == "duration"}
    return tuple(islice(times.values(), _MOST_DURATIONS))


_MOST_DURATIONS = 16


def _sentences(tokens: list[Token]) -> Iterator[list[Token]]:
    sentence: list[Token] = []
    for token in tokens:
        if token.kind == STOP:
            yield sentence
            sentence = []
        else:
            sentence.append(token)
    yield sentence


def _numbers(sentence: list[Token]) -> Iterator[Named]:
    """The numbers of settings in a sentence.

    A number belongs to the subject before it in its clause, else to the one after it, else to the
    last one of the clause before.
    """
    earlier = ""
    clause: list[Token] = []
    for token in (*sentence, Token(COMMA, ",", 0, 0)):
        if token.kind != COMMA:
            clause.append(token)
            continue
        owners = [_owner(each) for each in clause]
        yield from _numbers_of_clause(clause, owners, earlier)
        earlier = next((owner for owner in reversed(owners) if owner), earlier)
        clause = []


def _numbers_of_clause(clause: list[Token], owners: list[str], earlier: str) -> Iterator[Named]:
    fallback = earlier if earlier in SUBJECTS else ""
    owner = next((each for each in owners if each), fallback)
    for at, (token, own) in enumerate(zip(clause, owners, strict=True)):
        owner = own or owner
        if owner == RUNNING and at and clause[at - 1].text in LIMITS:
            owner = RATE
        made = _named_number(token, owner) if token.kind == NUMBER else None
        if made:
            yield made


def _named_number(token: Token, owner: str) -> Named | None:
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
    length = token.end - token.start
    return Named(token.start, length, paths=paths, number=placed, sets=subject.sets)


_OTHER = "other"


def _owner(token: Token) -> str:
    """The subject that a word names, `other` if it is of no setting, else ''."""
    return _owners().get(token.text, "") if token.kind == WORD else ""


@functools.cache
def _owners() -> dict[str, str]:
    named = {word: name for name, subject in SUBJECTS.items() for word in subject.words}
    return {**named, **dict.fromkeys(OTHERS, _OTHER)}
