"""Reads the options in a value set that a Questionnaire brings along: a plain list of codes.

Never one that stands elsewhere, and never what has to be worked out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fhir.questionnaire.answers import CODING, Answer
from orderlint.fhir.questionnaire.items import UnclearError
from orderlint.reading.node import Listing

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.fhir.element import Element
    from orderlint.reading.node import Scalar

_RECORD = frozenset(
    {
        *("resourceType", "id", "meta", "text", "url", "identifier", "version", "name", "title"),
        *("status", "experimental", "date", "publisher", "contact", "description", "useContext"),
        *("jurisdiction", "immutable", "purpose", "copyright"),
    }
)
_COMPOSE = frozenset({"id", "lockedDate", "include"})
_INCLUDE = frozenset({"id", "system", "version", "concept"})
_CONCEPT = frozenset({"id", "code", "display"})


def listed_in(reference: Scalar, contained: Sequence[Element]) -> tuple[Answer, ...]:
    """The options in the contained value set that is referred to. Raises UnclearError."""
    found = [
        each
        for each in contained
        if each.resource_type == "ValueSet" and f"#{each.text('id')}" == reference.text
    ]
    if len(found) != 1:
        said = f"its options stand in {reference.text}, which the file does not bring along"
        raise UnclearError(said, reference.place)
    _only(found[0], {*_RECORD, "compose"})
    compose = found[0].section("compose")
    if compose is None:
        raise UnclearError("its value set lists no options", found[0].place)
    _only(compose, _COMPOSE)
    options = tuple(_options(compose))
    if not options:
        raise UnclearError("its value set lists no options", compose.place)
    return options


def _options(compose: Element) -> Iterator[Answer]:
    for include in _sections(compose, "include"):
        _only(include, _INCLUDE)
        if not _sections(include, "concept"):
            raise UnclearError("its value set takes in a whole code system", include.place)
        for concept in _sections(include, "concept"):
            _only(concept, _CONCEPT)
            text = concept.scalar("display") or concept.scalar("code")
            if text is None:
                raise UnclearError("an option of its value set has no text", concept.place)
            yield Answer(CODING, text, concept.text("code"), include.text("system"))


def _sections(element: Element, key: str) -> tuple[Element, ...]:
    """The sections of a list that has nothing else in it."""
    listed, found = element.node.get(key), element.items(key)
    if listed is not None and not (isinstance(listed, Listing) and len(found) == len(listed.items)):
        raise UnclearError("its value set is not written as the standard has it", element.place)
    return found


def _only(element: Element, known: frozenset[str] | set[str]) -> None:
    for entry in element.node.entries:
        if entry.key.text not in known:
            said = f"{entry.key.text} of its value set is not understood"
            raise UnclearError(said, element.place_of(entry))
