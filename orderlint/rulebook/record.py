"""The fields of a rule's record, fetched from nodes, with an error that points at file and line.

Shapes of records only. Never a condition's meaning.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NoReturn

from orderlint.finding import Place, Refused
from orderlint.reading.node import Listing, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.language.surface import LanguageError
    from orderlint.reading.node import Node


def refuse(node: Node, message: str) -> NoReturn:
    """Refuse the file at a node."""
    raise Refused(message, node.place)


def pinpoint(scalar: Scalar, error: LanguageError) -> Refused:
    """The mistake in a condition, at its own line and column in the file.

    A folded scalar loses its line breaks and indentation, so the place is found by counting the
    characters that are not blank, which both texts share.
    """
    ahead = len(re.sub(r"\s", "", scalar.text[: error.at]))
    line, column = scalar.place.line, scalar.place.column
    start = scalar.raw.find(scalar.text[:1]) if scalar.raw[:1] in {"'", '"', ">", "|"} else 0
    for index, character in enumerate(scalar.raw):
        if ahead == 0 and not character.isspace() and index >= start:
            break
        ahead -= not character.isspace() and index >= start
        line, column = (line + 1, 1) if character == "\n" else (line, column + 1)
    return Refused(error.message, Place(scalar.place.file, line, column))


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
    if found is not None and (not isinstance(found, Scalar) or found.form == "nothing"):
        refuse(found, f"{key}: is one line of text")
    return found if isinstance(found, Scalar) else None


def words(parent: Section, key: str) -> str:
    """A text, or '' where it is left out."""
    found = optional(parent, key)
    return found.text if found else ""


def listed(parent: Section, key: str) -> tuple[Scalar, ...]:
    """A list of texts; empty where it is left out."""
    found = parent.get(key)
    if found is None:
        return ()
    if not isinstance(found, Listing) or not found.items:
        refuse(found, f"{key}: is a list of texts")
    for item in found.items:
        if not isinstance(item, Scalar):
            refuse(item, f"{key}: is a list of texts")
    return tuple(item for item in found.items if isinstance(item, Scalar))


def pairs(parent: Section, key: str) -> Iterator[tuple[str, Scalar]]:
    """The entries of a section of texts; none where it is left out."""
    found = parent.get(key)
    if found is not None:
        for entry in section(found, key, parent).entries:
            yield entry.key.text, scalar(section(found, key, parent), entry.key.text)


def known_keys(parent: Section, keys: Iterable[str], what: str) -> None:
    """Refuse a key that such a record does not have."""
    allowed = set(keys)
    for entry in parent.entries:
        if entry.key.text not in allowed:
            refuse(entry.key, f"{what} has no key {entry.key.text}")
