"""Parses JSON text into nodes. The standard parser decides what is JSON; our tokens give places.

Never a number's value: it stays the text that was written.
"""

from __future__ import annotations

import json
import re
from bisect import bisect_right
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

from orderlint.finding import Place, Refused
from orderlint.reading.limits import (
    DEEPEST,
    MOST_NODES,
    check_count,
    check_key,
    make_scalar,
    too_deep_refusal,
)
from orderlint.reading.node import KeyValue, Listing, Section, new
from orderlint.reading.unicode_checks import describe_character, place_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.reading.node import Form, Node, Scalar

# Commas and colons are left out: in text that the standard parser has accepted, brackets, strings
# and words in their order say everything.
_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"?|[{}\[\]]|[^\s"{}\[\]:,]+', re.DOTALL)
_WORDS: dict[str, Form] = {"null": "nothing", "true": "truth", "false": "truth"}
_NO_NUMBERS = frozenset({"NaN", "Infinity", "-Infinity"})


@dataclass(slots=True)
class _Reading:
    """One pass over the tokens of a text that is JSON, and within the limits."""

    file: str
    tokens: Iterator[re.Match[str]]
    line_starts: list[int]


def read_json(text: str, file: str, most: int = MOST_NODES) -> Node:
    """Parse a JSON text of at most `most` keys and values into a tree. Raises Refused."""
    # The limits first, since they keep the standard parser out of trouble. Each key or value takes
    # a character at least, and each level a bracket.
    if len(text) > most or text.count("{") + text.count("[") > DEEPEST:
        _check_limits(text, file, most)
    _check_syntax(text, file)
    line_starts = [0, *accumulate(len(line) + 1 for line in text.split("\n"))]
    tokens = _TOKEN.finditer(text)
    return _node(_Reading(file, tokens, line_starts), next(tokens))


def _check_limits(text: str, file: str, most: int) -> None:
    """Raise Refused at the first token that is too deep, or one too many."""
    depth = nodes = 0
    for found in _TOKEN.finditer(text):
        if found[0] in "]}":
            depth -= 1
        else:
            nodes += 1
            depth += found[0] in "[{"
        if depth > DEEPEST:
            raise too_deep_refusal(place_at(text, found.start(), file))
        if nodes > most:
            check_count(nodes, place_at(text, found.start(), file), most)
        if depth < 0:  # not JSON; the standard parser will say where
            return


def _check_syntax(text: str, file: str) -> None:
    # Numbers stay text: int() fails on long ones, and a float would lose digits.
    decoder = json.JSONDecoder(parse_float=str, parse_int=str, parse_constant=str)
    try:
        decoder.decode(text)
    except json.JSONDecodeError as error:
        says = error.msg.removesuffix(" at").removesuffix(" starting")
        message = f"This cannot be read as JSON at {describe_character(text, error.pos)} ({says})."
        raise Refused(message, place_at(text, error.pos, file)) from None


def _node(reading: _Reading, token: re.Match[str]) -> Node:
    # INVARIANT: the text is JSON and at most DEEPEST deep, so this recursion is as well.
    raw = token[0]
    if raw == "{":
        return Section(_entries(reading), _place(reading, token))
    if raw == "[":
        return Listing(_items(reading), _place(reading, token))
    return _scalar(reading, token)


def _entries(reading: _Reading) -> tuple[KeyValue, ...]:
    seen: dict[str, Place] = {}
    entries: list[KeyValue] = []
    for token in reading.tokens:
        if token[0] == "}":
            break
        key = _scalar(reading, token)
        check_key(key, seen)
        entries.append(new(KeyValue, (key, _node(reading, next(reading.tokens)))))
    return tuple(entries)


def _items(reading: _Reading) -> tuple[Node, ...]:
    items: list[Node] = []
    for token in reading.tokens:
        if token[0] == "]":
            break
        items.append(_node(reading, token))
    return tuple(items)


def _scalar(reading: _Reading, token: re.Match[str]) -> Scalar:
    raw, place = token[0], _place(reading, token)
    if raw[0] == '"':
        text = json.loads(raw) if "\\" in raw else raw[1:-1]
        return make_scalar(text, raw, "text", place)
    if raw in _NO_NUMBERS:
        raise Refused(f"{raw} is not a number that an order can hold.", place)
    return make_scalar(raw, raw, _WORDS.get(raw, "number"), place)


def _place(reading: _Reading, token: re.Match[str]) -> Place:
    offset = token.start()
    line = bisect_right(reading.line_starts, offset)
    return new(Place, (reading.file, line, offset - reading.line_starts[line - 1] + 1, ""))
