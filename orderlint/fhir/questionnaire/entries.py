"""Reads what may be answered to the question of one setting, as the entry of an order set.

A value that stands, options, or a blank. Never a condition.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fhir.element import Element, made
from orderlint.fhir.questionnaire.answers import (
    VALUES_OF,
    AnswerOption,
    extension,
    initial_of,
    is_answered_true,
    listed_in,
    option_of,
)
from orderlint.fhir.questionnaire.elements import BLANK, STEP
from orderlint.fhir.questionnaire.items import Item, UnclearError
from orderlint.fields import field_table
from orderlint.order_set.steps import EntryError, read_steps
from orderlint.reading.node import Listing, Node, Scalar, Section, nest_paths

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orderlint.finding import Place

_ANY = frozenset({"string", "text", "open-choice"})
"""Types of a question in which any setting can be written."""
_BLANKS = {"integer": "count", "dateTime": "instant", "quantity": "quantity"}
"""Type of a question → kind of the settings that can be written in it."""
_PICKED = frozenset({"choice", "boolean"})
"""Types of a question whose answers are always listed."""
_LISTED = _PICKED | {"string", "integer"}
"""Types of a question whose answers may be listed."""


class SetEntry(NamedTuple):
    """The entry of a set, and the answers that it lists; `answers` is None of a free blank.

    `is_required` if there is an answer wherever the question is shown.
    """

    node: Section
    answers: tuple[AnswerOption, ...] | None
    is_required: bool


def read_entry(item: Item, contained: Sequence[Element]) -> SetEntry | None:
    """The entry for the question of a setting; None where it is not understood at all.

    `contained` are the resources that the Questionnaire brings along. What is not understood is
    noted at the item.
    """
    try:
        if is_answered_true(item.element, "repeats"):
            raise UnclearError("it may have several answers", _place(item, "repeats"))
        if item.element.items("item"):
            raise UnclearError("items stand under its answer", _place(item, "item"))
        if is_answered_true(item.element, "readOnly"):
            return _fixed(item)
        if item.type in _PICKED or (_lists(item) and item.type != "open-choice"):
            return _choice(item, contained)
        return _blank(item)
    except UnclearError as error:
        item.note(error.reason, error.place)
        return None


def _place(item: Item, key: str) -> Place:
    found = item.element.node.get(key)
    place = found.place if found is not None else item.element.node.place
    return place._replace(element=item.element.below(key))


def _lists(item: Item) -> bool:
    """Whether a question has options."""
    found = (item.element.node.get(key) for key in ("answerOption", "answerValueSet"))
    return any(node is not None for node in found)


def _wrong_type(item: Item) -> UnclearError:
    return UnclearError(f"a question of the type {item.type or 'none'} holds no such setting")


def _fixed(item: Item) -> SetEntry:
    if item.type not in VALUES_OF:
        raise _wrong_type(item)
    initial = initial_of(item)
    if initial is None or _lists(item):
        raise UnclearError("it is read-only, and one value that stands is not there")
    return SetEntry(_entry(item, fixed=initial.text), (initial,), is_required=True)


def _choice(item: Item, contained: Sequence[Element]) -> SetEntry:
    answers = _options(item, contained)
    presets = [each.text for each in answers if each.is_preset]
    if len(presets) > 1:
        raise UnclearError("several of its options are picked", presets[1].place)
    listed = [each.text for each in answers if each.is_listed]
    required = is_answered_true(item.element, "required")
    step, blank = extension(item.element, STEP), extension(item.element, BLANK)
    parts = _in_steps(item, listed, step) if step else {"choose": _listing(item, listed)}
    if blank is not None and is_answered_true(blank, "valueBoolean"):
        if presets or "from" not in parts:
            raise UnclearError(
                "it is a blank without bounds, or a blank with a preset", blank.place
            )
        node = _entry(item, **_blank_parts(item, required), **parts)
    elif not required:
        raise UnclearError("it may be left without an answer, and a choice in a set may not")
    else:
        node = _entry(item, **parts, preset=presets[0] if presets else None)
    return SetEntry(node, answers, required)


def _options(item: Item, contained: Sequence[Element]) -> tuple[AnswerOption, ...]:
    """The answers that a question lists, with the one that is picked already."""
    if item.type not in _LISTED:
        raise _wrong_type(item)
    initial = initial_of(item)
    options = item.element.items("answerOption")
    reference = item.element.scalar("answerValueSet")
    if options and (reference is not None or initial is not None):
        raise UnclearError("its options stand beside a value set, or beside an initial value")
    if options and item.type != "boolean":
        return tuple(option_of(item, each) for each in options)
    if item.type == "boolean":
        found = _truths(item)
    elif reference is None:
        raise UnclearError("it has no options")
    else:
        found = listed_in(reference, contained)
    if initial is not None and not any(initial.same(answer) for answer in found):
        raise UnclearError("its initial value is none of its options", initial.text.place)
    return tuple(
        answer._replace(is_preset=initial is not None and initial.same(answer)) for answer in found
    )


def _truths(item: Item) -> tuple[AnswerOption, ...]:
    if _lists(item) or "true" not in field_table().fields[item.path].spellings:
        raise UnclearError("it asks for yes or no, which is not what the setting is")
    place = _place(item, "type")
    return tuple(AnswerOption("Boolean", made(word, place)) for word in ("true", "false"))


def _in_steps(item: Item, listed: Sequence[Scalar], step: Element) -> dict[str, Node | None]:
    """The ends of the options and the step between them, where that gives just these options."""
    written = step.scalar("valueString")
    if written is None or not listed:
        raise UnclearError("the step of its options is not a text", step.place)
    parts: dict[str, Node | None] = {"from": listed[0], "to": listed[-1], "step": written}
    try:
        steps = read_steps(field_table().fields[item.path], _entry(item, **parts))
        if [v.text for v in steps.values] == [v.text for v in listed]:
            return parts
    except EntryError:
        pass
    said = f"its options are not {written.text.strip()} from one another"
    item.note(said, written.place, written.text)
    return {"choose": _listing(item, listed)}


def _blank(item: Item) -> SetEntry:
    kind = field_table().fields[item.path].kind
    if item.type not in _ANY and _BLANKS.get(item.type) != kind:
        raise _wrong_type(item)
    options = [option_of(item, each) for each in item.element.items("answerOption")]
    if item.element.items("initial") or any(option.is_preset for option in options):
        raise UnclearError("a value stands in it that can be written over")
    required = is_answered_true(item.element, "required")
    return SetEntry(_entry(item, **_blank_parts(item, required)), None, required)


def _blank_parts(item: Item, required: bool) -> dict[str, Node | None]:
    word = "required" if required else "optional"
    return {"blank": made(word, item.element.place), "label": item.element.scalar("text")}


def _listing(item: Item, listed: Sequence[Scalar]) -> Listing:
    return Listing(tuple(listed), item.element.place)


def _entry(item: Item, **parts: Node | None) -> Section:
    given = {key: node for key, node in parts.items() if node is not None}
    return nest_paths(given, item.element.place)
