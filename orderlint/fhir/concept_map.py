"""Reads a standard ConceptMap: which codes of a site are which settings. Never a value."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, NoReturn

from orderlint.fhir.codes import CODES, ORDER, setting_codes
from orderlint.fhir.element import Element, fits, modifiers_in, read_element, shortened
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.reading import Document
    from orderlint.reading.node import KeyValue, Node

_SAME = frozenset({"equal", "equivalent"})

_READ: Mapping[str, Mapping[str, str]] = {
    "ConceptMap": read_element("resourceType", "status", group="Group*"),
    "Group": read_element("source", "target", element="Element*"),
    "Element": read_element("code", target="Target*"),
    "Target": read_element("code", "equivalence"),
}
"""Type of element → JSON name → type of what is there: '' is one value, a star marks a list."""
_HARMLESS: Mapping[str, frozenset[str]] = {
    "ConceptMap": frozenset(
        (
            *("meta", "language", "text", "contained", "url", "identifier", "version", "name"),
            *("title", "experimental", "date", "publisher", "contact", "description"),
            *("useContext", "jurisdiction", "purpose", "copyright"),
            *("sourceUri", "sourceCanonical", "targetUri", "targetCanonical"),
        )
    ),
    "Group": frozenset({"sourceVersion", "targetVersion"}),
    "Element": frozenset({"display"}),
    "Target": frozenset({"display", "comment"}),
}
"""Type of element → what names, dates or shows it, and maps nothing."""


class ConceptMap(NamedTuple):
    """The codes of our code system, by system and code of a site's own."""

    codes: Mapping[tuple[str, str], str] = {}

    def code_of(self, system: str, code: str) -> str | None:
        """Our code for a code of any system; None where there is none."""
        if system == CODES:
            return code if code == ORDER or code in setting_codes() else None
        return self.codes.get((system, code))


OURS = ConceptMap()
"""No codes but our own."""


def read_concept_map(document: Document) -> ConceptMap:
    """The map in a document. Raises Refused, with line and column, where it is none of ours."""
    root = Element(document.root, "ConceptMap")
    if root.resource_type != "ConceptMap":
        _refuse(document.root, "This is no ConceptMap.")
    _refuse_unread(root, "ConceptMap")
    if root.text("status") == "retired":
        _refuse(document.root, "This ConceptMap is retired.")
    found: dict[tuple[str, str], str] = {}
    for group in root.items("group"):
        if group.text("target") != CODES:
            _refuse(group.node, f"A group maps to {CODES}; this one does not.")
        for system_and_code, target, node in _pairs(group):
            if found.setdefault(system_and_code, target) != target:
                _refuse(node, f"{system_and_code[1]} is mapped to two settings.")
    if not found:
        _refuse(document.root, "This ConceptMap maps no code to a setting.")
    return ConceptMap(found)


def _pairs(group: Element) -> Iterator[tuple[tuple[str, str], str, Node]]:
    """Each code of a site with our code, and where it stands."""
    source = group.text("source")
    if not source or source == CODES:
        _refuse(group.node, "A group names the code system of the site as its source.")
    for element in group.items("element"):
        code = element.text("code")
        for target in element.items("target"):
            ours = target.text("code")
            if target.text("equivalence") not in _SAME:
                _refuse(target.node, "`equivalence` is equal or equivalent: a setting, or none.")
            if OURS.code_of(CODES, ours) is None:
                _refuse(target.node, f"{ours or 'This'} is no setting of an order.")
            if not code:
                _refuse(element.node, "`code` is missing.")
            yield (source, code), ours, target.node


def _refuse_unread(element: Element, kind: str) -> None:
    """Refuse what may change the map: a modifier, an unknown element, another shape."""
    for entry in element.node.entries:
        key = entry.key.text
        inner = _READ[kind].get(key)
        if inner is None:
            if key not in {"id", *_HARMLESS.get(kind, ())}:
                _refuse_entry(entry)
            for _, modifier in modifiers_in(entry.value, element.below(key)):
                _refuse_entry(modifier)
        elif not fits(entry.value, inner):
            _refuse(entry.value, f"“{key}” is not written as the standard has it.")
        else:
            for each in element.items(key):
                _refuse_unread(each, inner.rstrip("*"))


def _refuse_entry(entry: KeyValue) -> NoReturn:
    shown = shortened(" ".join(entry.key.text.split()))
    raise Refused(f"“{shown}” may change what a map says, and is not read.", entry.key.place)


def _refuse(node: Node, message: str) -> NoReturn:
    raise Refused(message, node.place)
