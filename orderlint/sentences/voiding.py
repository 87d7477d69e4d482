"""How far words that are not understood reach: which lines of the text they may void.

By where they stand alone. Never what they mean.
"""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from orderlint.sentences.clauses import Sentence

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
