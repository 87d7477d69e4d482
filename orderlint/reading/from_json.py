"""Parses JSON text into nodes. The standard parser decides what is JSON; our tokens give places.

Never a number's value: it stays the text that was written.
"""

from __future__ import annotations

import json
import re
from bisect import bisect_left
from dataclasses import dataclass, field
from itertools import repeat
from typing import TYPE_CHECKING, TypeAlias

from orderlint.finding import Place, Refused
from orderlint.reading.limits import (
    DEEPEST,
    MOST_NODES,
    check_key,
    make_scalar,
    too_deep_refusal,
    too_many_refusal,
)
from orderlint.reading.node import Form, KeyValue, Listing, Node, Scalar, Section, new
from orderlint.reading.unicode_checks import describe_character, place_at

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


# Commas and colons are left out: in text that the standard parser has accepted, brackets, strings
# and words in their order say everything.
_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"?|[{}\[\]]|[^\s"{}\[\]:,]+', re.DOTALL)
_OPENING = frozenset("{[")
_WORDS: dict[str, Form] = {"null": "nothing", "true": "truth", "false": "truth"}
_NO_NUMBERS = frozenset({"NaN", "Infinity", "-Infinity"})
_Token: TypeAlias = "tuple[str, Place]"


@dataclass(slots=True)
class _JsonReader:
    """One pass over the tokens of a text that is JSON.

    `known` has what was made of a token, but for its place: the same few stand again and again.
    """

    tokens: Iterator[_Token]
    known: dict[str, tuple[str, str, Form]] = field(default_factory=dict)


def read_json(text: str, file: str, most: int = MOST_NODES) -> Node:
    """Parse a JSON text of at most `most` keys and values into a tree. Raises Refused."""
    # Before each key or value of JSON, but the first, stands one of these.
    if sum(map(text.count, "{[,:")) >= most:
        _check_limits(text, file, most)
    try:
        _check_syntax(text, file)
        reading = _JsonReader(_tokens(text, file))
        return _node(reading, next(reading.tokens), 1)
    except (Refused, RecursionError):
        # A text beyond the limits is refused as that, whatever else is wrong with it.
        _check_limits(text, file, most)
        raise


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
            raise too_many_refusal(place_at(text, found.start(), file), most)
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


def _tokens(text: str, file: str) -> Iterator[_Token]:
    """The tokens of a text that is JSON, and within the limits, each with its place."""
    found = [*_TOKEN.finditer(text)]
    columns = [each.start() + 1 for each in found]
    lines: Iterable[int] = repeat(1)
    if "\n" in text:
        ends = [0, *(each.end() for each in re.finditer("\n", text))]
        lines = [bisect_left(ends, column) for column in columns]
        columns = [column - ends[line - 1] for column, line in zip(columns, lines, strict=True)]
    # Places are half of the work; so they are made without a step of Python for each.
    places = map(new, repeat(Place), zip(repeat(file), lines, columns, repeat("")))
    return zip((each[0] for each in found), places, strict=True)


def _node(reading: _JsonReader, token: _Token, depth: int) -> Node:
    raw, place = token
    if raw not in _OPENING:
        return _scalar(reading, token)
    if depth > DEEPEST:
        raise too_deep_refusal(place)
    if raw == "{":
        return new(Section, (_entries(reading, depth), place))
    return new(Listing, (_items(reading, depth), place))


def _entries(reading: _JsonReader, depth: int) -> tuple[KeyValue, ...]:
    seen: dict[str, Place] = {}
    entries: list[KeyValue] = []
    for token in reading.tokens:
        if token[0] == "}":
            break
        key = _scalar(reading, token)
        check_key(key, seen)
        entries.append(new(KeyValue, (key, _node(reading, next(reading.tokens), depth + 1))))
    return tuple(entries)


def _items(reading: _JsonReader, depth: int) -> tuple[Node, ...]:
    items: list[Node] = []
    for token in reading.tokens:
        if token[0] == "]":
            break
        items.append(_node(reading, token, depth + 1))
    return tuple(items)


def _scalar(reading: _JsonReader, token: _Token) -> Scalar:
    raw, place = token
    known = reading.known.get(raw)
    if known is None:
        known = reading.known[raw] = _make_scalar(raw, place)[:3]
    return new(Scalar, (*known, place))


def _make_scalar(raw: str, place: Place) -> Scalar:
    if raw[0] == '"':
        text = json.loads(raw) if "\\" in raw else raw[1:-1]
        return make_scalar(text, raw, "text", place)
    if raw in _NO_NUMBERS:
        raise Refused(f"{raw} is not a number that an order can hold.", place)
    return make_scalar(raw, raw, _WORDS.get(raw, "number"), place)
