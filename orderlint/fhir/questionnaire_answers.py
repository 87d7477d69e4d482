"""Reads what may be answered to the question of one setting, as the entry of an order set.

The text of an answer is the one that would be signed, as it is written. Never a condition.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.questionnaire_elements import BLANK, NOT_LISTED, STEP, unread
from orderlint.fhir.questionnaire_items import fault_of, refuse_modifiers, unread_fault
from orderlint.fhir.value_sets import ValueSetError, listed_in
from orderlint.fields import field_table
from orderlint.order_set.steps import EntryError, read_steps
from orderlint.reading.node import KeyValue, Listing, Scalar, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orderlint.fhir.element import Element
    from orderlint.fhir.questionnaire_items import Item
    from orderlint.finding import Fault, Place
    from orderlint.reading.node import Node

_VALUES = ("valueCoding", "valueString", "valueInteger", "valueBoolean", "valueDateTime")
_ANY = frozenset({"string", "text", "open-choice"})
"""Types of a question in which any setting can be written."""
_BLANKS = {"integer": "count", "dateTime": "instant", "quantity": "quantity"}
"""Type of a question → kind of the settings that can be written in it."""


class Answer(NamedTuple):
    """One answer that may be picked, or that stands: its text, and its code and system if any."""

    text: Scalar
    code: str = ""
    system: str = ""
    is_preset: bool = False
    is_listed: bool = True

    def same(self, other: Answer) -> bool:
        """Whether the standard takes the two for one: by code and system, else by the text."""
        if self.code and other.code:
            return (self.code, self.system) == (other.code, other.system)
        return self.text.text == other.text.text


class Entry(NamedTuple):
    """The entry of a set, and the answers that it lists; `answers` is None of a free blank.

    `is_required` if there is an answer wherever the question is shown.
    """

    node: Section
    answers: tuple[Answer, ...] | None
    is_required: bool


class AnswerError(Exception):
    """Why what may be answered to a question is not known, and where."""

    def __init__(self, reason: str, place: Place | None = None) -> None:
        super().__init__(reason)
        self.reason = reason
        self.place = place


def read_entry(item: Item, contained: Sequence[Element], faults: list[Fault]) -> Entry | None:
    """The entry for the question of a setting; None where it is not understood at all.

    `contained` are the resources that the Questionnaire brings along. What is not understood is
    added to `faults`.
    """
    try:
        if _is_true(item, "repeats"):
            raise AnswerError("it may have several answers", _place(item, "repeats"))
        if item.element.items("item"):
            raise AnswerError("items stand under its answer", _place(item, "item"))
        if _is_true(item, "readOnly"):
            return _fixed(item, faults)
        if _has_options(item):
            return _choice(item, contained, faults)
        return _blank(item)
    except AnswerError as error:
        place = error.place or item.element.place
        faults.append(fault_of(item, place, error.reason))
        return None


def _place(item: Item, key: str) -> Place:
    found = item.element.node.get(key)
    place = found.place if found is not None else item.element.node.place
    return place._replace(element=item.element.below(key))


def _is_true(item: Item, key: str) -> bool:
    return is_true(item.element, key)


def is_true(element: Element, key: str) -> bool:
    """Whether a truth value is true. Raises AnswerError where something else is written."""
    found = element.scalar(key)
    if found is None:
        return False
    if found.form != "truth":
        raise AnswerError(f"its {key} is neither true nor false", found.place)
    return found.text == "true"


def _has_options(item: Item) -> bool:
    listed = item.element.node.get("answerOption") or item.element.node.get("answerValueSet")
    if item.type in {"choice", "boolean"}:
        return True
    return listed is not None and item.type in {"string", "integer"}


def _fixed(item: Item, faults: list[Fault]) -> Entry:
    initial = _initial(item, faults)
    if initial is None or item.element.items("answerOption"):
        raise AnswerError("it is read-only, and one value that stands is not there")
    node = _entry(item, fixed=initial.text)
    return Entry(node, (initial,), is_required=True)


def _initial(item: Item, faults: list[Fault]) -> Answer | None:
    """The value that stands unless another is given; None where there is none."""
    found = item.element.items("initial")
    if len(found) > 1:
        raise AnswerError("several values stand in it", found[1].place)
    return _answer(item, found[0], "initial", faults) if found else None


def _answer(item: Item, element: Element, kind: str, faults: list[Fault]) -> Answer:
    """The answer in an `answerOption`, an `initial` or an `enableWhen`."""
    refuse_modifiers(element)
    extensions = {NOT_LISTED: ""} if kind == "answerOption" else {}
    faults += [unread_fault(item, element, entry) for entry in unread(element, kind, extensions)]
    values = [key for key in _VALUES if element.node.get(key) is not None]
    if len(values) != 1:
        raise AnswerError("an answer is not one coding or text", element.place)
    found = value_of(element, values[0])
    coding = element.section(values[0])
    if coding is not None:
        faults += [unread_fault(item, coding, entry) for entry in unread(coding, "Coding", {})]
    preset = kind == "answerOption" and is_true(element, "initialSelected")
    outside = extension(element, NOT_LISTED) is not None
    if outside and not preset:
        raise AnswerError("an option that is not listed is not its preset", element.place)
    return found._replace(is_preset=preset, is_listed=not outside)


def value_of(element: Element, key: str) -> Answer:
    """The answer under a JSON name. Raises AnswerError where there is none that is understood."""
    if not key.endswith("Coding"):
        text = element.scalar(key)
        if text is None:
            raise AnswerError("an answer is empty", element.place)
        return Answer(text)
    coding = element.section(key)
    if coding is None:
        raise AnswerError("an answer is not written as the standard has it", element.place)
    text = coding.scalar("display") or coding.scalar("code")
    if text is None:
        raise AnswerError("an answer has no text", coding.place)
    code, system = coding.text("code"), coding.text("system")
    if code and not system and code != text.text:  # it may be that which is signed
        raise AnswerError("an answer has one text to be shown and another as its code", text.place)
    return Answer(text, code, system)


def extension(element: Element, url: str) -> Element | None:
    """The extension of this name. Raises AnswerError where there are several."""
    found = [each for each in element.items("extension") if each.text("url") == url]
    if len(found) > 1:
        raise AnswerError("an extension stands in it twice", found[1].place)
    return found[0] if found else None


def _choice(item: Item, contained: Sequence[Element], faults: list[Fault]) -> Entry:
    answers = _options(item, contained, faults)
    presets = [each for each in answers if each.is_preset]
    if len(presets) > 1:
        raise AnswerError("several of its options are picked", presets[1].text.place)
    preset = presets[0].text if presets else None
    listed = [each.text for each in answers if each.is_listed]
    required = _is_true(item, "required")
    step, blank = extension(item.element, STEP), extension(item.element, BLANK)
    parts = _in_steps(item, listed, step, faults) if step else {"choose": _listing(item, listed)}
    if blank is not None and is_true(blank, "valueBoolean"):
        if preset is not None or "from" not in parts:
            raise AnswerError("it is a blank without bounds, or a blank with a preset", blank.place)
        node = _entry(item, **_blank_parts(item, required), **parts)
    elif not required:
        raise AnswerError("it may be left without an answer, and a choice in a set may not")
    else:
        node = _entry(item, **parts, preset=preset)
    return Entry(node, answers, required)


def _options(item: Item, contained: Sequence[Element], faults: list[Fault]) -> tuple[Answer, ...]:
    initial = _initial(item, faults)
    if item.type == "boolean":
        return tuple(_picked(answer, initial) for answer in _truths(item))
    options = item.element.items("answerOption")
    reference = item.element.scalar("answerValueSet")
    if options and (reference is not None or initial is not None):
        raise AnswerError("its options stand beside a value set, or beside an initial value")
    if options:
        return tuple(_answer(item, each, "answerOption", faults) for each in options)
    if reference is None:
        raise AnswerError("it has no options")
    try:
        found = tuple(
            Answer(each.text, each.code, each.system) for each in listed_in(reference, contained)
        )
    except ValueSetError as error:
        raise AnswerError(error.reason, error.place) from None
    if initial is not None and not any(initial.same(answer) for answer in found):
        raise AnswerError("its initial value is none of its options", initial.text.place)
    return tuple(_picked(answer, initial) for answer in found)


def _picked(answer: Answer, initial: Answer | None) -> Answer:
    return answer._replace(is_preset=initial is not None and initial.same(answer))


def _truths(item: Item) -> tuple[Answer, ...]:
    field = field_table().fields[item.path]
    if "true" not in field.spellings:
        raise AnswerError("it asks for yes or no, which the setting is not")
    place = _place(item, "type")
    return tuple(Answer(Scalar(word, word, "text", place)) for word in ("true", "false"))


def _in_steps(
    item: Item, listed: Sequence[Scalar], step: Element, faults: list[Fault]
) -> dict[str, Node | None]:
    """The ends of the options and the step between them, where that gives just these options."""
    written = step.scalar("valueString")
    if written is None or not listed:
        raise AnswerError("the step of its options is not a text", step.place)
    parts: dict[str, Node | None] = {"from": listed[0], "to": listed[-1], "step": written}
    try:
        steps = read_steps(field_table().fields[item.path], _entry(item, **parts))
        if [v.text for v in steps.values] == [v.text for v in listed]:
            return parts
    except EntryError:
        pass
    said = f"its options are not {written.text.strip()} from one another"
    faults.append(fault_of(item, written.place, said, written.text))
    return {"choose": _listing(item, listed)}


def _blank(item: Item) -> Entry:
    kind = field_table().fields[item.path].kind
    if item.type not in _ANY and _BLANKS.get(item.type) != kind:
        raise AnswerError(f"a question of the type {item.type or 'none'} holds no such setting")
    if _has_preset(item):
        raise AnswerError("a value stands in it that can be written over")
    required = _is_true(item, "required")
    return Entry(_entry(item, **_blank_parts(item, required)), None, required)


def _has_preset(item: Item) -> bool:
    options = item.element.items("answerOption")
    return bool(item.element.items("initial")) or any(
        is_true(each, "initialSelected") for each in options
    )


def _blank_parts(item: Item, required: bool) -> dict[str, Node | None]:
    word = "required" if required else "optional"
    return {"blank": made(word, item.element.place), "label": item.element.scalar("text")}


def made(text: str, place: Place) -> Scalar:
    """A word of an entry that the Questionnaire says in another way."""
    return Scalar(text, text, "text", place)


def _listing(item: Item, listed: Sequence[Scalar]) -> Listing:
    return Listing(tuple(listed), item.element.place)


def _entry(item: Item, **parts: Node | None) -> Section:
    place = item.element.place
    return Section(
        tuple(KeyValue(made(key, place), node) for key, node in parts.items() if node is not None),
        place,
    )
