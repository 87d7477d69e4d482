"""Parses JSON text into nodes. The standard parser decides what is JSON; our tokens give places.

Never a number's value: it stays the text that was written.
"""

from __future__ import annotations

import json
import re
from bisect import bisect_right
from dataclasses import dataclass
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
from orderlint.reading.node import KeyValue, Listing, Section
from orderlint.reading.unicode_checks import describe_character, place_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.reading.node import Form, Node, Scalar

# Commas and colons are left out: in text that the standard parser has accepted, brackets, strings
# and words in their order say everything.
_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"?|[{}\[\]]|[^\s"{}\[\]:,]+', re.DOTALL)
_WORDS: dict[str, Form] = {"null": "nothing", "true": "truth", "false": "truth"}


@dataclass(frozen=True, slots=True)
class _Token:
    raw: str
    place: Place


def read_json(text: str, file: str, most: int = MOST_NODES) -> Node:
    """Parse a JSON text of at most `most` keys and values into a tree. Raises Refused."""
    # The tokens first, since they hold the limits that keep the standard parser out of trouble.
    tokens = iter(list(_tokens(text, file, most)))
    _check_syntax(text, file)
    return _node(next(tokens), tokens)


def _tokens(text: str, file: str, most: int) -> Iterator[_Token]:
    line_starts = [0, *(found.end() for found in re.finditer("\n", text))]
    depth = nodes = 0
    for found in _TOKEN.finditer(text):
        line = bisect_right(line_starts, found.start())
        place = Place(file, line, found.start() - line_starts[line - 1] + 1)
        if found[0] in "]}":
            depth -= 1
        else:
            nodes += 1
            depth += found[0] in "[{"
        if depth > DEEPEST:
            raise too_deep_refusal(place)
        check_count(nodes, place, most)
        yield _Token(found[0], place)
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


def _node(token: _Token, tokens: Iterator[_Token]) -> Node:
    # INVARIANT: the text is JSON and at most DEEPEST deep, so this recursion is as well.
    if token.raw == "{":
        return Section(tuple(_entries(tokens)), token.place)
    if token.raw == "[":
        return Listing(tuple(_items(tokens)), token.place)
    return _scalar(token)


def _entries(tokens: Iterator[_Token]) -> Iterator[KeyValue]:
    seen: dict[str, Place] = {}
    while (token := next(tokens)).raw != "}":
        key = _scalar(token)
        check_key(key, seen)
        yield KeyValue(key, _node(next(tokens), tokens))


def _items(tokens: Iterator[_Token]) -> Iterator[Node]:
    while (token := next(tokens)).raw != "]":
        yield _node(token, tokens)


def _scalar(token: _Token) -> Scalar:
    if token.raw.startswith('"'):
        return make_scalar(json.loads(token.raw), token.raw, "text", token.place)
    if token.raw in {"NaN", "Infinity", "-Infinity"}:
        raise Refused(f"{token.raw} is not a number that an order can hold.", token.place)
    return make_scalar(token.raw, token.raw, _WORDS.get(token.raw, "number"), token.place)
