"""A section of a FHIR resource with its FHIRPath, and the elements in it.

What is not written as the standard has it is not there for a reader. Never a meaning.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Place
from orderlint.reading.node import KeyValue, Listing, Node, Scalar, Section, new
from orderlint.schema_check import is_empty

if TYPE_CHECKING:
    from collections.abc import Iterator


_CHOICE = re.compile(
    "(value|answer|occurrence|asNeeded|code|medication|reported|allowed|item|rate|dose|quantity|bounds)"
    "(?:Coding|Quantity|Range|Ratio|CodeableConcept|Reference|Boolean|String|Integer|DateTime|Period"
    "|Timing|Duration)"
)
"""The JSON name of an element that may have several types; its FHIRPath has no type."""
MODIFIERS = frozenset({"modifierExtension", "implicitRules"})
"""What the standard forbids to pass over: who does not understand it must not go on."""


class Element(NamedTuple):
    """A section of a resource, and its FHIRPath."""

    node: Section
    path: str

    @property
    def place(self) -> Place:
        """Where it stands, with its FHIRPath."""
        return at(self.node.place, self.path)

    def below(self, key: str) -> str:
        """The FHIRPath of the element that has this JSON name."""
        return f"{self.path}.{_step(key)}"

    def place_of(self, entry: KeyValue) -> Place:
        """Where an entry of it stands, with its FHIRPath."""
        return at(entry.key.place, self.below(entry.key.text))

    def scalar(self, key: str) -> Scalar | None:
        """The value under a JSON name, if it is one and not empty; its place has its FHIRPath."""
        found = self.node.get(key)
        if not isinstance(found, Scalar) or is_empty(found):
            return None
        return located(found, self.below(key))

    def text(self, key: str) -> str:
        """The text of the value under a JSON name; '' where there is none."""
        found = self.node.get(key)
        return found.text if isinstance(found, Scalar) and not is_empty(found) else ""

    def section(self, key: str) -> Element | None:
        """The section under a JSON name."""
        found = self.node.get(key)
        return new(Element, (found, self.below(key))) if isinstance(found, Section) else None

    def items(self, key: str) -> tuple[Element, ...]:
        """The sections of the list under a JSON name."""
        found = self.node.get(key)
        return sections_of(found, self.below(key)) if isinstance(found, Listing) else ()

    def sections(self, key: str) -> tuple[Element, ...]:
        """The section under a JSON name, or those of the list there."""
        found = self.section(key)
        return (found,) if found else self.items(key)

    @property
    def resource_type(self) -> str:
        """The type of a resource; '' of another element."""
        return self.text("resourceType")


def sections_of(listed: Listing, path: str) -> tuple[Element, ...]:
    """The sections of a list whose FHIRPath this is."""
    return tuple(
        new(Element, (item, f"{path}[{number}]"))
        for number, item in enumerate(listed.items)
        if isinstance(item, Section)
    )


def read_element(*values: str, **sections: str) -> dict[str, str]:
    """What is read of an element: the JSON names of its values, each with the type '', and the type
    of each section; one with a star is of a list of sections.
    """
    return {**dict.fromkeys(values, ""), **sections}


def fits(node: Node, kind: str) -> bool:
    """Whether a node is written as the standard has an element of a type: '' is one value, any
    other type a section, and one with a star a list of sections.
    """
    if kind.endswith("*"):
        return isinstance(node, Listing) and all(isinstance(item, Section) for item in node.items)
    return isinstance(node, Section if kind else Scalar)


def modifiers_in(node: Node, path: str) -> Iterator[tuple[Element, KeyValue]]:
    """Each modifier in what stands at a FHIRPath or below it, with the element that has it."""
    if isinstance(node, Listing):
        for number, item in enumerate(node.items):
            yield from modifiers_in(item, f"{path}[{number}]")
    if isinstance(node, Section):
        whole = Element(node, path)
        for entry in node.entries:
            if entry.key.text in MODIFIERS:
                yield whole, entry
            else:
                yield from modifiers_in(entry.value, whole.below(entry.key.text))


@functools.lru_cache(maxsize=256)
def _step(key: str) -> str:
    """What the FHIRPath of an element ends in that has this JSON name.

    It is between backticks where it is no word, and no longer than a line.
    """
    name = key.removeprefix("_")
    choice = _CHOICE.fullmatch(name)
    if choice:
        return choice[1]
    return name if _NAME.fullmatch(name) else f"`{shortened(name).replace('`', ' ')}`"


_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,59}")


def located(scalar: Scalar, path: str) -> Scalar:
    """The value with its FHIRPath in its place."""
    text, raw, form, place = scalar
    return new(Scalar, (text, raw, form, at(place, path)))


def at(place: Place, path: str) -> Place:
    """The place with a FHIRPath."""
    file, line, column, _ = place
    return new(Place, (file, line, column, path))


LONGEST_SHOWN = 80


def made(text: str, place: Place) -> Scalar:
    """A text as it would be written, for what a resource says in another way."""
    return Scalar(text, text, "text", place)


def shortened(text: str) -> str:
    """What is shown of a text: no more than fits a line."""
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def as_written(node: Node) -> str:
    """What is written in an element, as far as it fits a line: the text of each of its values."""
    return shortened(" ".join(_pieces(node, LONGEST_SHOWN)))


def _pieces(node: Node, room: int) -> list[str]:
    """The texts in a node, and no more than can be shown."""
    if isinstance(node, Scalar):
        return [" ".join(node.text.split())]
    inner = node.items if isinstance(node, Listing) else [entry.value for entry in node.entries]
    found: list[str] = []
    for each in inner:
        if room <= 0:
            break
        pieces = _pieces(each, room)
        found += pieces
        room -= sum(map(len, pieces)) + 1
    return found
