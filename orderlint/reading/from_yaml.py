"""Parses YAML text into nodes, from libyaml's events; our resolver decides what a scalar is.

Plain data only: anything by which one part of a file changes another, or names a type, is refused.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, TypeAlias

import yaml

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
from orderlint.reading.yaml_raw_text import compared

if TYPE_CHECKING:
    from collections.abc import Iterator

    _NodeEvent: TypeAlias = yaml.AliasEvent | yaml.ScalarEvent | yaml.CollectionStartEvent

_WORDS: dict[str, Form] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL"), "nothing"),
    **dict.fromkeys(("true", "True", "TRUE", "false", "False", "FALSE"), "truth"),
}
# The numbers of the YAML 1.2 core schema, and those that readers of YAML 1.1 or JSON take for
# numbers: underscores, base 60, binary, signed bases.
_NUMBER = re.compile(
    r"[-+]?(?:0[xX][0-9a-fA-F_]+|0[oO][0-7_]+|0[bB][01_]+"
    r"|(?:[0-9][0-9_]*(?::[0-9][0-9_]*)*(?:\.[0-9_]*)?|\.[0-9][0-9_]*)(?:[eE][-+]?[0-9]+)?)"
)
_BEGIN_NUMBERS = frozenset("+-.0123456789")
_NOT_FINITE = frozenset(sign + word for sign in ("", "-", "+") for word in (".inf", ".nan"))
_OPENINGS = rf"[\[{{](?:[^\n\[{{}}\]]*[\[{{]){{{DEEPEST - 1}}}"  # on one line, none closed


class _YamlReader:
    """One pass over the events of one file, in the order that YAML's grammar gives them.

    Keys to `skip` are left out with their values; `nodes` counts those read so far.
    """

    def __init__(self, text: str, file: str, events: Iterator[Any], skip: frozenset[str]) -> None:
        self.text, self.file, self.events, self.skip = text, file, events, skip
        self.nodes = 0

    def place(self, mark: Any) -> Place:
        return Place(self.file, mark.line + 1, mark.column + 1)


def read_yaml(text: str, file: str, skip: frozenset[str] = frozenset()) -> Node | None:
    """Parse the only document of a YAML text, None if it has none. Raises Refused.

    Entries under a key of `skip` are left out, at any depth, and the raw text is not compared with
    the events, which takes half as long again: for the tool's own files, which tests read whole.
    """
    # Events need neither resolver nor constructor; the loader is only the public door to libyaml,
    # or where PyYAML is installed without it, to PyYAML's own parser: the same events, more slowly.
    loader = yaml.CBaseLoader if yaml.__with_libyaml__ else yaml.BaseLoader
    events = yaml.parse(text, Loader=loader)
    reading = _YamlReader(text, file, events if skip else compared(events, text, file), skip)
    try:
        return _document(reading)
    except yaml.YAMLError as error:
        raise _syntax(reading, error) from None


def _document(reading: _YamlReader) -> Node | None:
    next(reading.events)  # the start of the stream
    start = next(reading.events)
    if not isinstance(start, yaml.DocumentStartEvent):
        return None
    _check_directives(reading, start)
    root = _node(reading, next(reading.events), 1)
    next(reading.events)  # the end of the document
    after = next(reading.events)
    if isinstance(after, yaml.DocumentStartEvent):
        first = reading.place(start.start_mark)
        raise Refused(
            "A second document begins here; a file holds one.",
            reading.place(after.start_mark),
            also=first,
        )
    return root


def _check_directives(reading: _YamlReader, start: yaml.DocumentStartEvent) -> None:
    if start.version is not None and start.version != (1, 2):
        message = "The file says that it is another YAML than 1.2, the only one that is read."
        raise Refused(message, reading.place(start.start_mark))
    if start.tags:
        line = re.search("^%TAG", reading.text, re.MULTILINE)
        number = reading.text.count("\n", 0, line.start()) + 1 if line else 1
        raise Refused("%TAG directives are not read.", Place(reading.file, number, 1))


def _node(reading: _YamlReader, event: _NodeEvent, depth: int) -> Node:
    # INVARIANT: depth is checked before the first child, so this recursion is DEEPEST deep at most.
    if isinstance(event, yaml.ScalarEvent):
        return _scalar(reading, event, _counted(reading, event))
    place = _counted(reading, event)
    if depth > DEEPEST:
        raise too_deep_refusal(place)
    if isinstance(event, yaml.SequenceStartEvent):
        return Listing(_items(reading, depth), place)
    return Section(_entries(reading, depth), place)


def _counted(reading: _YamlReader, event: Any) -> Place:
    """Return the place of a node after checking that it is plain data and within the limit.

    INVARIANT: an alias has an anchor, and so its tag, which it has not, is not looked at.
    """
    mark = event.start_mark
    place = new(Place, (reading.file, mark.line + 1, mark.column + 1, ""))
    if event.anchor is not None or event.tag is not None:
        raise _not_plain(event, place)
    reading.nodes += 1
    if reading.nodes > MOST_NODES:
        raise too_many_refusal(place)
    return place


def _not_plain(event: _NodeEvent, place: Place) -> Refused:
    if isinstance(event, yaml.AliasEvent):
        return Refused("Aliases (*) are not read. Write the value out.", place)
    if event.tag is not None:
        return Refused("Tags (!) are not read. Write the value without one.", place)
    return Refused("Anchors (&) are not read. Write the value without one.", place)


def _items(reading: _YamlReader, depth: int) -> tuple[Node, ...]:
    items: list[Node] = []
    while not isinstance(event := next(reading.events), yaml.SequenceEndEvent):
        items.append(_node(reading, event, depth + 1))
    return tuple(items)


def _entries(reading: _YamlReader, depth: int) -> tuple[KeyValue, ...]:
    seen: dict[str, Place] = {}
    entries: list[KeyValue] = []
    while not isinstance(event := next(reading.events), yaml.MappingEndEvent):
        key = _key(reading, event)
        check_key(key, seen)
        if key.text in reading.skip:
            _pass_over(reading)
        else:
            value = _node(reading, next(reading.events), depth + 1)
            entries.append(new(KeyValue, (key, value)))
    return tuple(entries)


def _pass_over(reading: _YamlReader) -> None:
    """Take the events of one node without making it."""
    depth = 0
    for event in reading.events:
        depth += isinstance(event, yaml.CollectionStartEvent)
        depth -= isinstance(event, yaml.CollectionEndEvent)
        if depth == 0:
            return


def _key(reading: _YamlReader, event: _NodeEvent) -> Scalar:
    place = _counted(reading, event)
    if not isinstance(event, yaml.ScalarEvent):
        raise Refused("A key must be a word, not a list or a section.", place)
    key = _scalar(reading, event, place)
    if key.form != "text":
        kind = {"nothing": "empty or null", "truth": "true or false", "number": "a number"}
        raise Refused(f"A key must be a word, not {kind[key.form]}.", place)
    if key.text == "<<" and not event.style:
        raise Refused("Merge keys (<<) are not read. Write the values out.", place)
    return key


def _scalar(reading: _YamlReader, event: yaml.ScalarEvent, place: Place) -> Scalar:
    text: str = event.value
    start: Any = event.start_mark
    end: Any = event.end_mark
    raw = reading.text[start.index : end.index]
    if event.style:
        # The end of a block scalar is the start of what comes next.
        return make_scalar(text, raw.rstrip(), "text", place)
    if text[:1] not in _BEGIN_NUMBERS:
        return make_scalar(text, raw, _WORDS.get(text, "text"), place)
    if text.lower() in _NOT_FINITE:
        raise Refused(f"{text} is not a number that an order can hold.", place)
    return make_scalar(text, raw, "number" if _NUMBER.fullmatch(text) else "text", place)


def _syntax(reading: _YamlReader, error: yaml.YAMLError) -> Refused:
    if not isinstance(error, yaml.MarkedYAMLError) or error.problem_mark is None:
        return Refused(f"This cannot be read as YAML ({error}).", reading.file)
    says = ", ".join(part for part in (error.context, error.problem) if part)
    # libyaml looks ahead on one line, and may meet its own limit on nesting before we meet ours.
    openings = re.search(_OPENINGS, reading.text) if "nesting" in says else None
    if openings:
        return too_deep_refusal(place_at(reading.text, openings.end() - 1, reading.file))
    what = describe_character(reading.text, error.problem_mark.index)
    message = f"This cannot be read as YAML at {what} ({says})."
    return Refused(message, reading.place(error.problem_mark))
