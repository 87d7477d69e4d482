"""Reads answers to a question: a coding or a text each, as it is written, and whether two are one.

Those that stand in the question, and those in a value set that the form brings along: a plain list
of codes, never what has to be worked out. The text of an answer is the one that would be signed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.element import Element, fits
from orderlint.fhir.questionnaire.elements import NOT_LISTED
from orderlint.fhir.questionnaire.items import Item, UnclearError, refuse_modifiers

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.reading.node import Scalar

CODING = "Coding"
_FORMS = {"String": "text", "DateTime": "text", "Integer": "number", "Boolean": "truth"}
"""Type of a value → the form in which JSON has it."""
VALUES_OF = {
    "choice": (CODING, "String"),
    "open-choice": (CODING, "String"),
    "string": ("String",),
    "text": ("String",),
    "integer": ("Integer",),
    "boolean": ("Boolean",),
    "dateTime": ("DateTime",),
}
"""Type of a question → types of the values that are read as its answers."""

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


class AnswerOption(NamedTuple):
    """One answer that may be picked, or that stands: its type, its text, and its code if any."""

    kind: str
    text: Scalar
    code: str = ""
    system: str = ""
    is_preset: bool = False
    is_listed: bool = True

    def same(self, other: AnswerOption) -> bool:
        """Whether the standard takes the two for one: by type and code, else by the text.

        Of two codings of which one has no code, readers of the standard differ: they are not one.
        """
        if self.code or other.code:
            return (self.code, self.system) == (other.code, other.system)
        return (self.kind, self.text.text) == (other.kind, other.text.text)


def is_answered_true(element: Element, key: str) -> bool:
    """Whether a truth value is true. Raises UnclearError where something else is written."""
    found = element.scalar(key)
    if found is None:
        return False
    if found.form != "truth":
        raise UnclearError(f"its {key} is neither true nor false", found.place)
    return found.text == "true"


def extension(element: Element, url: str) -> Element | None:
    """The extension of this name. Raises UnclearError where there are several."""
    found = [each for each in element.items("extension") if each.text("url") == url]
    if len(found) > 1:
        raise UnclearError("an extension stands in it twice", found[1].place)
    return found[0] if found else None


def initial_of(item: Item) -> AnswerOption | None:
    """The value that stands unless another is given; None where there is none."""
    found = item.element.items("initial")
    if len(found) > 1:
        raise UnclearError("several values stand in it", found[1].place)
    return _answer(item, found[0], "initial") if found else None


def option_of(item: Item, element: Element) -> AnswerOption:
    """One `answerOption` of a question."""
    found = _answer(item, element, "answerOption")
    preset, outside = is_answered_true(element, "initialSelected"), extension(element, NOT_LISTED)
    if outside is not None and not preset:
        raise UnclearError("an option that is not listed is not its preset", element.place)
    return found._replace(is_preset=preset, is_listed=outside is None)


def _answer(item: Item, element: Element, kind: str) -> AnswerOption:
    refuse_modifiers(element)
    item.note_unread(element, kind)
    kinds = VALUES_OF.get(item.type, ())
    values = [e.key.text for e in element.node.entries if e.key.text.startswith("value")]
    if len(values) != 1 or values[0].removeprefix("value") not in kinds:
        said = f"an answer is not one value that a question of the type {item.type or 'none'} has"
        raise UnclearError(said, element.place)
    coding = element.section(values[0])
    if coding is not None:
        item.note_unread(coding, "Coding")
    return answer_of(element, values[0])


def answer_of(element: Element, key: str) -> AnswerOption:
    """The answer under a JSON name. Raises UnclearError where there is none that is understood."""
    kind = key.removeprefix("value").removeprefix("answer")
    if kind != CODING:
        text = element.scalar(key)
        if text is None or text.form != _FORMS.get(kind):
            raise UnclearError("an answer is not written as the standard has it", element.place)
        return AnswerOption(kind, text)
    coding = element.section(key)
    text = coding and (coding.scalar("display") or coding.scalar("code"))
    if coding is None or text is None or text.form != "text":
        raise UnclearError("an answer is no coding that has a text", element.place)
    code, system = coding.text("code"), coding.text("system")
    if code and not system and code != text.text:  # it may be that which is signed
        raise UnclearError("an answer has one text to be shown and another as its code", text.place)
    return AnswerOption(kind, text, code, system)


def listed_in(reference: Scalar, contained: Sequence[Element]) -> tuple[AnswerOption, ...]:
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


def _options(compose: Element) -> Iterator[AnswerOption]:
    for include in _sections(compose, "include"):
        _only(include, _INCLUDE)
        if not _sections(include, "concept"):
            raise UnclearError("its value set takes in a whole code system", include.place)
        for concept in _sections(include, "concept"):
            _only(concept, _CONCEPT)
            text = concept.scalar("display") or concept.scalar("code")
            if text is None:
                raise UnclearError("an option of its value set has no text", concept.place)
            yield AnswerOption(CODING, text, concept.text("code"), include.text("system"))


def _sections(element: Element, key: str) -> tuple[Element, ...]:
    """The sections of a list that has nothing else in it."""
    listed = element.node.get(key)
    if listed is not None and not fits(listed, "Element*"):
        raise UnclearError("its value set is not written as the standard has it", element.place)
    return element.items(key)


def _only(element: Element, known: frozenset[str] | set[str]) -> None:
    for entry in element.node.entries:
        if entry.key.text not in known:
            said = f"{entry.key.text} of its value set is not understood"
            raise UnclearError(said, element.place_of(entry))
