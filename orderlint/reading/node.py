"""The tree that every file becomes, YAML or JSON alike: sections, lists, scalars.

Each node keeps its text as written and its place. Never a number, a unit or a meaning.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Place

Form: TypeAlias = Literal["nothing", "truth", "number", "text"]

new = tuple.__new__
"""Makes a named tuple of a tuple of all its parts, in half the time that a call of its class takes:
each key and each value is one, and has a place.
"""


class Scalar(NamedTuple):
    """One written value.

    `text` is the value with quotes and escapes resolved; `raw` is its text in the file, from first
    to last character. `form` is its type by the YAML 1.2 core schema; a quoted scalar is always
    text.
    """

    text: str
    raw: str
    form: Form
    place: Place


class KeyValue(NamedTuple):
    """One key of a section with its value."""

    key: Scalar
    value: Node


class Section(NamedTuple):
    """A mapping. Keys are unique."""

    entries: tuple[KeyValue, ...]
    place: Place

    def get(self, key: str) -> Node | None:
        """Return the value under `key`, or None."""
        # A loop: a generator takes twice the time, and resources are read name by name.
        for name, value in self.entries:
            if name.text == key:
                return value
        return None


class Listing(NamedTuple):
    """A list."""

    items: tuple[Node, ...]
    place: Place


Node: TypeAlias = Scalar | Section | Listing


def nest_paths(leaves: Mapping[str, Node], place: Place) -> Section:
    """Make nested sections of dotted paths, as if written in a file."""
    children: dict[str, dict[str, Node]] = {}
    for path, scalar in leaves.items():
        head, _, rest = path.partition(".")
        children.setdefault(head, {})[rest] = scalar
    entries = []
    for head, below in children.items():
        key = Scalar(head, head, "text", place)
        value = below[""] if "" in below else nest_paths(below, place)
        entries.append(KeyValue(key, value))
    return Section(tuple(entries), place)
