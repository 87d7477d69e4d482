"""Reads a prescriber's sentences: the values in clauses that are understood, and all the rest.

A clause is understood whole by one reading, or it is not understood. Never judges a value.
"""

from __future__ import annotations

import functools
import re
from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.intake.clauses import Clause, sentences_of
from orderlint.intake.patterns import Value, patterns

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from orderlint.intake.clauses import Sentence


class Understood(NamedTuple):
    """A clause that one pattern fits as a whole, and the values in it; a heading has none.

    The offsets of a value are those in the text.
    """

    clause: Clause
    values: tuple[Value, ...]


class TextReading(NamedTuple):
    """What a text says. Each of its clauses is in one of the two lists, first to last."""

    understood: tuple[Understood, ...]
    not_understood: tuple[Clause, ...]

    @property
    def values(self) -> tuple[Value, ...]:
        """One value for each setting that is understood: where it is first written."""
        first: dict[str, Value] = {}
        for item in self.understood:
            for value in item.values:
                first.setdefault(value.path, value)
        return tuple(first.values())


def read_text(text: str) -> TextReading:
    """Read a text of any length. Never raises, whatever the text."""
    found = [*_readings(text)]
    every = (value for _, values in found for value in values or ())
    again = contradicted((value.path, value.text) for value in every)
    is_out = [_says_any(values, again) for _, values in found]
    return TextReading(
        tuple(
            Understood(clause, values)
            for (clause, values), out in zip(found, is_out, strict=True)
            if values is not None and not out
        ),
        tuple(
            clause
            for (clause, values), out in zip(found, is_out, strict=True)
            if values is None or out
        ),
    )


@functools.lru_cache(maxsize=8)
def values_read(text: str) -> tuple[Value, ...]:
    """The values of a text, for whoever asks of each number in turn."""
    return read_text(text).values


def holds_setting(clause: str) -> bool:
    """Whether a clause that is not understood has a number, or a word of a setting's name."""
    words = {word.casefold() for word in _WORD.findall(clause)}
    return any(map(str.isnumeric, clause)) or not words.isdisjoint(_setting_words())


_WORD = re.compile(r"[^\W\d_]+")
_OF_NO_SETTING = frozenset(
    {"a", "an", "and", "at", "by", "during", "for", "in", "is", "of", "on", "or", "the", "to"}
    | {"unit", "time"}
)


@functools.cache
def _setting_words() -> frozenset[str]:
    names = (field.name for field in field_table().fields.values())
    return frozenset(w.casefold() for n in names for w in _WORD.findall(n)) - _OF_NO_SETTING


def _readings(text: str) -> Iterator[tuple[Clause, tuple[Value, ...] | None]]:
    """Each clause with its values, none of a heading, None if it is not understood."""
    governed = -1  # the paragraph that a line which is not understood governs
    for cut in sentences_of(text):
        sentence = _with_text_whole(text, cut)
        read = [_read_clause(clause, alone=sentence.is_line) for clause in sentence.clauses]
        # What is before a comma may be the condition of what is after it.
        is_whole = None not in read and sentence.paragraph != governed
        if None in read and _may_govern(sentence):
            governed = sentence.paragraph
        for clause, values in zip(sentence.clauses, read, strict=True):
            yield clause, values if is_whole else None


def _with_text_whole(text: str, sentence: Sentence) -> Sentence:
    """A line `Indication: …` as one clause, for the commas in it are those of a free text."""
    whole = Clause(
        text[sentence.clauses[0].start : sentence.clauses[-1].end], sentence.clauses[0].start
    )
    is_of_text = sentence.is_line and len(sentence.clauses) > 1 and len(whole.text) <= _LONGEST
    fields = field_table().fields
    if is_of_text and any(
        fields[value.path].kind == "text" for value in _read_clause(whole, alone=True) or ()
    ):
        return sentence._replace(clauses=(whole,))
    return sentence


def _may_govern(sentence: Sentence) -> bool:
    """True of what can be a heading, such as `Old settings`: it may say that what follows is void.

    A colon at its end makes it one, as do a few words alone on a line without a number.
    """
    words = " ".join(clause.text for clause in sentence.clauses)
    is_short = len(words.split()) <= _MOST_WORDS and not any(map(str.isnumeric, words))
    return words.endswith(":") or (sentence.is_line and is_short)


_MOST_WORDS = 4
_LONGEST = 400
"""Characters of a clause that is tried; what is longer is no line of an order."""


def _read_clause(clause: Clause, *, alone: bool) -> tuple[Value, ...] | None:
    if alone and clause.text.rstrip(": ").casefold() in _headings():
        return ()
    if len(clause.text) > _LONGEST:
        return None
    readings = {values for each in patterns() if (values := each.values_in(clause.text))}
    if len(readings) != 1:
        return None
    (values,) = readings
    return tuple(
        value._replace(start=clause.start + value.start, end=clause.start + value.end)
        for value in values
    )


@functools.cache
def _headings() -> frozenset[str]:
    """What may stand above lines and says nothing: the names of an order's sections."""
    return frozenset(name.casefold() for name in field_table().section_names.values())


def contradicted(written: Iterable[tuple[str, str]]) -> frozenset[str]:
    """Of paths and values, the paths with different values: which one holds is not known.

    A section that is `none` and a setting in it contradict each other too.
    """
    times = Counter(path for path, _ in {(path, " ".join(text.split())) for path, text in written})
    several = {path for path, count in times.items() if count > 1}
    for path, below in field_table().sections.items():
        inside = times.keys() & {*below} - {path}
        if path in times and inside:
            several |= {path, *inside}
    return frozenset(several)


def _says_any(values: Sequence[Value] | None, paths: frozenset[str]) -> bool:
    return any(value.path in paths for value in values or ())
