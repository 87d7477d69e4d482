"""What words that are not understood void: what is read of their own setting, or whole lines.

By the words alone, and by where they stand. Never what they mean.
"""

from __future__ import annotations

import functools
import itertools
import re
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.sentences.patterns import patterns
from orderlint.unit_spellings import SPELLINGS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.sentences.clauses import Sentence

_WORD = re.compile(r"[^\W\d_]+")
_ABBREVIATION = re.compile(r"\b(?:EVD|HOB)\b")
_PLAIN = re.compile(r"[^\W_](?:[\w\s.,:=<>()/%°+−–-]*[^\W_]\)?)?")
"""The characters of a label, a number and its unit: no question, quotation or mark of deletion."""
_PLACE = frozenset({"at", "of", "is", "the", "above", "below", "in", "per"})
_NO_NAMES = frozenset({"patient", "time", "change", "daily", "hourly", "interval", "no", "clamp"})
"""Words in the names of settings that may as well be about the patient, or about what is done."""
_NEVER_FIRST = frozenset(
    {"icp", "cpp", "map", "net", "output", "weight", "high", "low"}
    | {"level", "limit", "volume", "period", "delay", "check", "out", "up"}
)
"""Words with which a condition may begin, or which name no one setting."""


def settings_named(clause: str) -> frozenset[str]:
    """The settings of which a clause may speak that has a number and begins with a word of their
    names; else none. Whatever is read of one of these elsewhere is in doubt.
    """
    words, names = [*_words(clause)], _settings_by_name()
    if not words or words[0] not in names or not any(map(str.isdigit, clause)):
        return frozenset()
    found = [names[word] for word in words if word in names]
    return frozenset.intersection(*found) or frozenset().union(*found)


def speaks_for_itself(clause: str) -> bool:
    """Whether a clause of which settings are named has an amount, and no word about others.

    A colon ends its label; after a number it is that of a time, or more may stand under it.
    """
    words, label = [*_words(clause)], clause.rpartition(":")[0]
    if words[0] in _NEVER_FIRST or any(map(str.isdigit, label)) or not _PLAIN.fullmatch(clause):
        return False
    return _amount().search(clause) is not None and _known_words().issuperset(words)


@functools.cache
def _known_words() -> frozenset[str]:
    return frozenset((*_settings_by_name(), *_PLACE, *_unit_words()))


def _words(text: str) -> Iterator[str]:
    """The words of a text, each as its singular."""
    for word in _WORD.findall(text.casefold()):
        yield word[:-1] if len(word) > 3 and word.endswith("s") and word not in _PLACE else word


@functools.cache
def _settings_by_name() -> Mapping[str, frozenset[str]]:
    """Each word of the names of quantities, and each abbreviation, with the settings in patterns
    of clauses that have it.
    """
    fields = field_table().fields.values()
    of_quantities = {w for each in fields if each.kind == "quantity" for w in _words(each.name)}
    short = {w.casefold() for each in patterns() for w in _ABBREVIATION.findall(each.source)}
    known = (of_quantities | short) - _NO_NAMES - _PLACE
    found: dict[str, set[str]] = {}
    for each in patterns():
        for word in known & {*_words(re.sub("<[^<>|]*>", " ", each.source))}:
            found.setdefault(word, set()).update(each.paths)
    return {word: frozenset(settings) for word, settings in found.items()}


@functools.cache
def _unit_words() -> frozenset[str]:
    """The words of units, and those of the places that a pressure is measured from."""
    places = field_table().fields["drainage.landmark"].spellings
    return frozenset(word for text in (*SPELLINGS, *places) for word in _words(text))


@functools.cache
def _amount() -> re.Pattern[str]:
    """A number and its unit; a letter alone, but h, may be anything."""
    units = {word for text in SPELLINGS for word in _WORD.findall(text) if len(word) > 1} - _PLACE
    return re.compile(rf"\d\s*(?:h|{'|'.join(sorted(units))})(?![^\W\d_])", re.IGNORECASE)


_MOST_WORDS = 4
"""Words of a line that may be a heading, or speak of the whole text: `Old orders`, `Not signed`."""
_NUMBER_FIRST = re.compile(r"[-–—−]?\s*\d")


def lines_voided(
    sentences: Sequence[Sentence], not_understood: Iterable[Sentence]
) -> frozenset[int]:
    """The lines in which nothing counts. `not_understood` are some of the sentences."""
    lines = {sentence.line: sentence for sentence in sentences}
    return frozenset(line for bad in not_understood for line in _reach(bad, lines))


def _reach(bad: Sentence, lines: dict[int, Sentence]) -> set[int]:
    words = " ".join(clause.text for clause in bad.clauses)
    is_short = bad.is_line and len(words.split()) <= _MOST_WORDS
    if is_short or any(clause.text.endswith(":") for clause in bad.clauses):
        return {*lines}
    if any(map(str.isnumeric, words)):
        return {bad.line} | _beside(bad, [*lines.values()], bool(_NUMBER_FIRST.match(words)))
    paragraph = _paragraphs(lines.values(), {bad.paragraph})
    return {*lines} if bad.is_line and len(paragraph) == 1 else paragraph


def _beside(bad: Sentence, lines: Sequence[Sentence], number_first: bool) -> set[int]:
    """The lines beside one with a number; none of an item of a list.

    A number that comes first may belong to the line before, an item's too. A line above items is
    the heading of them; one that is a paragraph of its own may speak of those before and after it.
    """
    own = [line for line in lines if line.paragraph == bad.paragraph]
    before = {line.line for line in [line for line in lines if line.line < bad.line][-1:]}
    if bad.is_item:
        return before if number_first else set()
    if len(own) == 1:
        paragraphs = [*dict.fromkeys(line.paragraph for line in lines)]
        at = paragraphs.index(bad.paragraph)
        return _paragraphs(lines, {*paragraphs[max(at - 1, 0) : at + 2]})
    below = [line for line in own if line.line > bad.line]
    items = itertools.takewhile(lambda line: line.is_item, below)
    return before | {line.line for line in (*below[:1], *items)}


def _paragraphs(lines: Iterable[Sentence], which: set[int]) -> set[int]:
    return {line.line for line in lines if line.paragraph in which}
