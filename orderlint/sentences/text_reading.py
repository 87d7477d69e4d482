"""Reads a prescriber's sentences: the values in clauses that are understood, and all the rest.

A clause is understood whole by one reading, or it is not understood. Never judges a value.
"""

from __future__ import annotations

import functools
import re
from collections import Counter
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.reading.quantity_text import split_quantity
from orderlint.sentences.clauses import Clause, Sentence, sentences_of
from orderlint.sentences.patterns import Pattern, Value, patterns
from orderlint.sentences.voiding import lines_voided, settings_named, speaks_for_itself
from orderlint.units import find_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence


_LONGEST = 400
"""Characters of a clause that is tried; what is longer is no line of an order."""


class Understood(NamedTuple):
    """A clause that one pattern fits as a whole, and the values in it; a heading has none.

    The offsets of a value are those in the text.
    """

    clause: Clause
    values: tuple[Value, ...]


class Why(Enum):
    """Why a clause is not understood, in words that follow it."""

    NO_PATTERN = "no pattern fits"
    SEVERAL = "patterns fit that read it otherwise"
    LONG = f"longer than {_LONGEST} characters"
    BESIDE = "stands beside words that are not understood"
    TWO_VALUES = "has two values"


class ClauseNotUnderstood(NamedTuple):
    """A clause of which nothing is read, and why."""

    clause: Clause
    why: Why


class TextReading(NamedTuple):
    """What a text says. Each of its clauses is in one of the two lists, first to last."""

    understood: tuple[Understood, ...]
    not_understood: tuple[ClauseNotUnderstood, ...]

    @property
    def values(self) -> tuple[Value, ...]:
        """One value for each setting that is understood: where it is first written."""
        first: dict[str, Value] = {}
        for item in self.understood:
            for value in item.values:
                first.setdefault(value.path, value)
        return tuple(first.values())


# Kept for whoever asks of one text more than once.
@functools.lru_cache(maxsize=8)
def read_text(text: str, where: tuple[Pattern, ...] = ()) -> TextReading:
    """Read a text of any length. Never raises, whatever the text.

    `where` are patterns of clauses that are plain only where this text stands.
    """
    found = [*_readings(text, (*patterns(), *where))]
    every = (value for each in found if isinstance(each, Understood) for value in each.values)
    again = contradicted((value.path, value.text) for value in every)
    read = [_unless_of(again, each, Why.TWO_VALUES) for each in found]
    return TextReading(
        tuple(each for each in read if isinstance(each, Understood)),
        tuple(each for each in read if isinstance(each, ClauseNotUnderstood)),
    )


def _unless_of(
    paths: frozenset[str], read: Understood | ClauseNotUnderstood, why: Why
) -> Understood | ClauseNotUnderstood:
    """A clause as it is read, unless it has a value of one of these settings."""
    is_of_one = isinstance(read, Understood) and any(value.path in paths for value in read.values)
    return ClauseNotUnderstood(read.clause, why) if is_of_one else read


def values_at(text: str, offset: int, paths: frozenset[str]) -> tuple[Value, ...]:
    """The values of some settings in a text that a place in it is within, first to last."""
    is_within = (value for value in _values(text) if value.start <= offset < value.end)
    return tuple(value for value in is_within if value.path in paths)


# Kept for whoever asks of each number in turn.
@functools.lru_cache(maxsize=8)
def _values(text: str) -> tuple[Value, ...]:
    return read_text(text).values


def holds_setting(clause: str) -> bool:
    """Whether a clause that is not understood has a number, or names a setting.

    By the whole of its name, or of its key in its section: `drain height`, `landmark`.
    """
    words = f" {_words(clause)} "
    return any(map(str.isnumeric, clause)) or any(f" {name} " in words for name in _names())


def _words(text: str) -> str:
    return " ".join(re.findall(r"[^\W\d_]+", text.casefold()))


@functools.cache
def _names() -> frozenset[str]:
    fields = field_table().fields.values()
    keys = Counter(_words(each.path.rpartition(".")[2]) for each in fields)
    in_section = (
        _words(each.path.rpartition(".")[2])
        for each in fields
        if "." in each.path and each.kind in {"quantity", "choice"}
    )
    return frozenset(_words(each.name) for each in fields) | {k for k in in_section if keys[k] == 1}


def _readings(text: str, known: Sequence[Pattern]) -> Iterator[Understood | ClauseNotUnderstood]:
    """Each clause with its values, none of a heading, or why it is not understood."""
    sentences = [_with_text_whole(text, cut) for cut in sentences_of(text)]
    read = [
        [_read_clause(clause, known, alone=sentence.is_line) for clause in sentence.clauses]
        for sentence in sentences
    ]
    # What is before a comma may be the condition of what is after it.
    unread = {n: texts for n, clauses in enumerate(read) if (texts := [*_not_read(clauses)])}
    named = {n: [settings_named(text) for text in texts] for n, texts in unread.items()}
    own = {n for n in unread if all(named[n]) and all(map(speaks_for_itself, unread[n]))}
    voided = lines_voided(sentences, [sentences[n] for n in unread if n not in own])
    doubtful = frozenset(path for each in named.values() for paths in each for path in paths)
    for number, (sentence, clauses) in enumerate(zip(sentences, read, strict=True)):
        is_void = sentence.line in voided or number in own
        for each in clauses:
            yield _void(each) if is_void else _unless_of(doubtful, each, Why.BESIDE)


def _not_read(clauses: Iterable[Understood | ClauseNotUnderstood]) -> Iterator[str]:
    return (each.clause.text for each in clauses if isinstance(each, ClauseNotUnderstood))


def _void(each: Understood | ClauseNotUnderstood) -> ClauseNotUnderstood:
    return ClauseNotUnderstood(each.clause, Why.BESIDE) if isinstance(each, Understood) else each


def _with_text_whole(text: str, sentence: Sentence) -> Sentence:
    """A line `Indication: …` as one clause, for the commas in it are those of a free text."""
    whole = Clause(
        text[sentence.clauses[0].start : sentence.clauses[-1].end], sentence.clauses[0].start
    )
    is_of_text = sentence.is_line and len(sentence.clauses) > 1 and len(whole.text) <= _LONGEST
    fields = field_table().fields
    read = _read_clause(whole, patterns(), alone=True) if is_of_text else None
    if isinstance(read, Understood) and any(
        fields[value.path].kind == "text" for value in read.values
    ):
        return sentence._replace(clauses=(whole,))
    return sentence


def _read_clause(
    clause: Clause, known: Sequence[Pattern], *, alone: bool
) -> Understood | ClauseNotUnderstood:
    if alone and clause.text.rstrip(": ").casefold() in _headings():
        return Understood(clause, ())
    if len(clause.text) > _LONGEST:
        return ClauseNotUnderstood(clause, Why.LONG)
    readings = {values for each in known if (values := each.values_in(clause.text))}
    if len(readings) != 1:
        return ClauseNotUnderstood(clause, Why.SEVERAL if readings else Why.NO_PATTERN)
    (values,) = readings
    moved = (
        value._replace(start=clause.start + value.start, end=clause.start + value.end)
        for value in values
    )
    return Understood(clause, tuple(moved))


@functools.cache
def _headings() -> frozenset[str]:
    """What may stand above lines and says nothing: the names of an order's sections."""
    return frozenset(name.casefold() for name in field_table().section_names.values())


def contradicted(written: Iterable[tuple[str, str]]) -> frozenset[str]:
    """Of paths and values, the paths with different values: which one holds is not known.

    Two spellings of one unit differ in nothing. A section that is `none` and a setting in it
    contradict each other too.
    """
    times = Counter(path for path, _ in {(path, _as_said(path, text)) for path, text in written})
    several = {path for path, count in times.items() if count > 1}
    for path, below in field_table().sections.items():
        inside = times.keys() & {*below} - {path}
        if path in times and inside:
            several |= {path, *inside}
    return frozenset(several)


def _as_said(path: str, text: str) -> str:
    """A value without what says nothing: blanks, and how its unit is spelt."""
    split = split_quantity(text) if field_table().fields[path].kind == "quantity" else None
    unit = find_unit(split.unit) if split and split.unit else None
    if split is None or split.number is None or unit is None:
        return " ".join(text.split())
    return f"{text[: text.rindex(split.unit)].strip()} {unit.symbol}"
