"""The values that a free text states of settings, in clauses that are understood whole.

Never what stands beside words that are not understood, and never whether a setting says the same.
"""

from __future__ import annotations

import functools
from typing import NamedTuple

from orderlint.fields import field_table
from orderlint.finding import Place, Refused
from orderlint.leaf_reader import read_leaf
from orderlint.order import Leaf, State
from orderlint.reading.limits import make_scalar
from orderlint.sentences.text_reading import read_text


class StatedValue(NamedTuple):
    """A value as a text has it, with its offsets and those of its clause."""

    path: str
    text: str
    start: int
    end: int
    clause: tuple[int, int]


class Statements(NamedTuple):
    """What a text states. `is_whole` says that each of its clauses is understood."""

    values: tuple[StatedValue, ...]
    is_whole: bool


# Kept for whoever asks of one text more than once.
@functools.lru_cache(maxsize=8)
def statements_in(text: str) -> Statements:
    """What a text states; never raises, whatever the text."""
    reading = read_text(text)
    values = (
        StatedValue(value.path, value.text, value.start, value.end, (clause.start, clause.end))
        for clause, found in reading.understood
        for value in found
    )
    return Statements(tuple(values), not reading.not_understood)


def value_read(path: str, text: str) -> Leaf:
    """A value as the setting at `path` would be read; unreadable where it is none of that."""
    field = field_table().fields.get(path)
    if field is None or field.kind not in {"quantity", "choice"} or not text.strip():
        return Leaf(path, State.UNREADABLE)
    try:
        return read_leaf(field, make_scalar(text, text, "text", Place("", 1, 1))).leaf
    except Refused:
        return Leaf(path, State.UNREADABLE)
