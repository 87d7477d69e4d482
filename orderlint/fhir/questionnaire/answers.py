"""Reads one answer to a question: a coding or a text, as it is written, and whether two are one.

The text of an answer is the one that would be signed. Never which answers a question may have.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.questionnaire.elements import NOT_LISTED
from orderlint.fhir.questionnaire.items import UnclearError, refuse_modifiers, unread_faults

if TYPE_CHECKING:
    from orderlint.fhir.element import Element
    from orderlint.fhir.questionnaire.items import Item
    from orderlint.finding import Fault
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


class Answer(NamedTuple):
    """One answer that may be picked, or that stands: its type, its text, and its code if any."""

    kind: str
    text: Scalar
    code: str = ""
    system: str = ""
    is_preset: bool = False
    is_listed: bool = True

    def same(self, other: Answer) -> bool:
        """Whether the standard takes the two for one: by type and code, else by the text.

        Of two codings of which one has no code, readers of the standard differ: they are not one.
        """
        if self.code or other.code:
            return (self.code, self.system) == (other.code, other.system)
        return (self.kind, self.text.text) == (other.kind, other.text.text)


def is_true(element: Element, key: str) -> bool:
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


def initial_of(item: Item, faults: list[Fault]) -> Answer | None:
    """The value that stands unless another is given; None where there is none."""
    found = item.element.items("initial")
    if len(found) > 1:
        raise UnclearError("several values stand in it", found[1].place)
    return _answer(item, found[0], "initial", faults) if found else None


def option_of(item: Item, element: Element, faults: list[Fault]) -> Answer:
    """One `answerOption` of a question."""
    found = _answer(item, element, "answerOption", faults)
    preset, outside = is_true(element, "initialSelected"), extension(element, NOT_LISTED)
    if outside is not None and not preset:
        raise UnclearError("an option that is not listed is not its preset", element.place)
    return found._replace(is_preset=preset, is_listed=outside is None)


def _answer(item: Item, element: Element, kind: str, faults: list[Fault]) -> Answer:
    refuse_modifiers(element)
    faults += unread_faults(item, element, kind)
    kinds = VALUES_OF.get(item.type, ())
    values = [e.key.text for e in element.node.entries if e.key.text.startswith("value")]
    if len(values) != 1 or values[0].removeprefix("value") not in kinds:
        said = f"an answer is not one value that a question of the type {item.type or 'none'} has"
        raise UnclearError(said, element.place)
    coding = element.section(values[0])
    if coding is not None:
        faults += unread_faults(item, coding, "Coding")
    return value_of(element, values[0])


def value_of(element: Element, key: str) -> Answer:
    """The answer under a JSON name. Raises UnclearError where there is none that is understood."""
    kind = key.removeprefix("value").removeprefix("answer")
    if kind != CODING:
        text = element.scalar(key)
        if text is None or text.form != _FORMS.get(kind):
            raise UnclearError("an answer is not written as the standard has it", element.place)
        return Answer(kind, text)
    coding = element.section(key)
    text = coding and (coding.scalar("display") or coding.scalar("code"))
    if coding is None or text is None or text.form != "text":
        raise UnclearError("an answer is no coding that has a text", element.place)
    code, system = coding.text("code"), coding.text("system")
    if code and not system and code != text.text:  # it may be that which is signed
        raise UnclearError("an answer has one text to be shown and another as its code", text.place)
    return Answer(kind, text, code, system)
