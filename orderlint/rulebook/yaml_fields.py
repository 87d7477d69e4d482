"""Reads texts, lists, sections and sources of a record; a mistake is raised with its place."""

from __future__ import annotations

import re
from keyword import iskeyword
from typing import TYPE_CHECKING, NoReturn

from orderlint.finding import Refused
from orderlint.language.types import Quantity
from orderlint.reading.node import Listing, Node, Scalar, Section
from orderlint.rulebook.citation import Source
from orderlint.units import has_instant_form, parse_instant, read_constant

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping


_PLAIN_NAME = re.compile(r"[a-z][a-z0-9_]*")
_TIMES = re.compile(r"([1-9]\d{0,3}) times")
_KINDS_OF_SOURCE = {
    "logic": "follows from the order itself",
    "common-practice": "common practice, no published source",
    "local-policy": "local policy",
    "published": "",
}


def refuse(node: Node, message: str) -> NoReturn:
    """Raise Refused at the place of a node."""
    raise Refused(message, node.place)


def section(node: Node | None, what: str, owner: Node) -> Section:
    """The node as a section."""
    if not isinstance(node, Section):
        refuse(node or owner, f"{what} is a section with keys of its own")
    return node


def scalar(parent: Section, key: str) -> Scalar:
    """A text that must be there."""
    found = optional(parent, key)
    if found is None:
        refuse(parent, f"{key}: is missing")
    return found


def optional(parent: Section, key: str) -> Scalar | None:
    """A text that may be left out."""
    found = parent.get(key)
    if found is None:
        return None
    if not isinstance(found, Scalar) or found.form == "nothing" or not found.text.strip():
        refuse(found, f"{key}: is one text, and not empty")
    return found


def words(parent: Section, key: str) -> str:
    """A text, or '' if it is left out."""
    found = optional(parent, key)
    return found.text if found else ""


def listed(parent: Section, key: str) -> tuple[Scalar, ...]:
    """A list of texts; empty if it is left out."""
    found = parent.get(key)
    if found is None:
        return ()
    if not isinstance(found, Listing) or not found.items:
        refuse(found, f"{key}: is a list of one text or more")
    return tuple(_list_item(item, key) for item in found.items)


def _list_item(item: Node, key: str) -> Scalar:
    if not isinstance(item, Scalar):
        refuse(item, f"{key}: is a list of texts")
    return item


def pairs(parent: Section, key: str) -> Iterator[tuple[Scalar, Scalar]]:
    """The keys and values of a section of texts; none if it is left out."""
    found = parent.get(key)
    if found is not None:
        inner = section(found, f"{key}:", parent)
        for entry in inner.entries:
            yield entry.key, scalar(inner, entry.key.text)


def known_keys(parent: Section, keys: Iterable[str], what: str) -> None:
    """Raise Refused at a key that is not among `keys`; `what` names the record."""
    allowed = set(keys)
    for entry in parent.entries:
        if entry.key.text not in allowed:
            shown = " ".join(entry.key.text.split())
            refuse(entry.key, f"{what} has no key {shown}{near(entry.key.text, allowed)}")


def near(text: str, known: Iterable[str]) -> str:
    """`; did you mean …?` with the known name most like a misspelt one; '' if none is like it."""
    close = most_like(text, known)
    return f"; did you mean {close}?" if close else ""


def most_like(text: str, known: Iterable[str]) -> str | None:
    """The known name most like a misspelt one; None if none is like it."""
    from difflib import get_close_matches  # noqa: PLC0415 - only where something is misspelt

    return next(iter(get_close_matches(text, sorted(known), 1, 0.7)), None)


def plain_name(key: Scalar, taken: Iterable[str] = ()) -> str:
    """The name that a key gives. Raises Refused if it is no name, or one of those taken."""
    if not _PLAIN_NAME.fullmatch(key.text) or iskeyword(key.text):
        refuse(key, f"{key.text} is no name; a name is small letters, digits and _")
    if key.text in taken:
        refuse(key, f"{key.text} is the name of something else")
    return key.text


def quantity(text: Scalar) -> Quantity:
    """A constant with its unit, an instant, or how many times as much, as in `2 times`."""
    times = _TIMES.fullmatch(text.text)
    if times:
        return Quantity("number", int(times[1]), text.text)
    if has_instant_form(text.text):
        instant = parse_instant(text.text)
        if instant is None:
            said = "is no date and time of the calendar with its offset from UTC"
            refuse(text, f"{text.text} {said}")
        return Quantity("instant", instant, text.text)
    try:
        ticks, unit = read_constant(text.text)
    except ValueError as error:
        refuse(text, str(error))
    return Quantity(unit.dimension, ticks, text.text)


def sources_of(record: Section, catalogue: Mapping[str, str]) -> tuple[Source, ...]:
    """The sources under `source:` of a record, which has one or a list of them.

    Citations are in one catalogue.
    """
    node = record.get("source")
    items = node.items if isinstance(node, Listing) else (node,) if node else ()
    if not items:
        refuse(node or record, "source: is missing")
    return tuple(_source(section(item, "source:", record), catalogue) for item in items)


def _source(node: Section, catalogue: Mapping[str, str]) -> Source:
    known_keys(node, ("kind", "cite", "note"), "a source")
    kind, cite, note = scalar(node, "kind"), optional(node, "cite"), optional(node, "note")
    if kind.text not in _KINDS_OF_SOURCE:
        refuse(kind, f"a kind of source is one of: {', '.join(_KINDS_OF_SOURCE)}")
    if (kind.text == "published") != (cite is not None):
        refuse(cite or node, "a published source, and no other, has a cite")
    if cite is not None and cite.text not in catalogue:
        refuse(cite, f"there is no source {cite.text}")
    text = catalogue[cite.text] if cite else _KINDS_OF_SOURCE[kind.text]
    return Source(kind.text, f"{text} ({note.text})" if note else text, note.text if note else None)
