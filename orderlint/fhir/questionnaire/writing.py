"""Writes an order set as a FHIR R4 Questionnaire: a question for each setting that it speaks of.

The text of each answer is the one that would be signed. What has no place is refused by name.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any, NamedTuple

from orderlint.fhir.codes import CODES
from orderlint.fhir.conversion import Conversion
from orderlint.fhir.questionnaire.elements import BLANK, NOT_LISTED, STEP
from orderlint.fhir.questionnaire.enable_when_writing import AnswerTerm, Layer, layers_of
from orderlint.fhir.questionnaire.head import head_elements
from orderlint.fhir.questionnaire.reading import moved_between, set_document
from orderlint.field import Field, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Place, Refused
from orderlint.leaf_reader import read_leaf
from orderlint.order_set.head import read_head
from orderlint.order_set.read import OFFERED, read_order_set
from orderlint.order_set.slot_reader import GATE_KEYS, is_slot_entry
from orderlint.reading import FHIR, Document, read
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Form, Node, Scalar, Section
from orderlint.rulebook.load import load
from orderlint.schema_check import has_allowed_form, is_empty

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from orderlint.order import Leaf
    from orderlint.order_set.model import OrderSet, Slot

_CODE = re.compile(r"\S+(?: \S+)*")
"""What the standard takes for a code."""
_BLANK_TYPES = {"count": "integer", "instant": "dateTime", "text": "text"}
"""Kind of field → type of the question in which it is written; any other is a string."""


class _Writing(NamedTuple):
    """The set that is written."""

    order_set: OrderSet
    layers: Mapping[str, tuple[Layer, ...]]


def questionnaire_of(document: Document) -> Conversion:
    """The Questionnaire of an order set. Raises Refused where a part has no place in one."""
    text = questionnaire_text(document)
    written = read(text.encode(), document.file, FHIR, json=True)
    return Conversion(document.file, text, tuple(moved_between(document, written.root)))


def questionnaire_text(document: Document) -> str:
    """The Questionnaire of an order set, as JSON that ends in a line feed.

    Raises Refused, with a place, for what has no place in a Questionnaire: a part of the set that
    is not understood, a condition that no questions say, a value that is no text.
    """
    order_set = read_order_set(document, load("order-set").derived)
    for fault in (*order_set.unsettled, *read_head(document.root).faults):
        name = in_sentence(field_table().display_name(fault.path))
        why = "is not understood, so that it has no place in a Questionnaire; a review says why"
        raise Refused(f"What is written for the {name} {why}.", fault.place)
    layers = {gate.path: layers_of(gate, order_set) for gate in order_set.gates}
    writing = _Writing(order_set, layers)
    order = document.root.get("order")
    assert isinstance(order, Section)  # else reading has refused it
    made = head_elements(order_set.head)
    made["item"] = [item for each in _items(writing, order, "") for item in each]
    text = json.dumps(made, ensure_ascii=False, indent=2) + "\n"
    _check_reads_back(text, document)
    return text


def _check_reads_back(text: str, document: Document) -> None:
    """Raise Refused where the set would not be understood as a Questionnaire."""
    try:
        root = read_json(text, document.file)
        assert isinstance(root, Section)
        again = read_order_set(set_document(root, document.file), load("order-set").derived)
    except Refused as error:
        message = f"The set has no place in a Questionnaire: {error.message}"
        raise Refused(message, document.root.place) from None
    for fault in again.unsettled:
        name = in_sentence(field_table().display_name(fault.path))
        reason = f"has no place in a Questionnaire: {fault.details.get('reason', '')}"
        raise Refused(f"What is written for the {name} {reason}", document.root.place)


def _items(writing: _Writing, section: Section, path: str) -> Iterator[list[dict[str, Any]]]:
    """The items of the settings and sections in a section, in the order of the document."""
    table = field_table()
    for key, node in section.entries:
        below = table.keys[path].get(key.text)
        if below is None or (path and key.text in {*GATE_KEYS, OFFERED}) or is_empty(node):
            continue
        is_entry = below in table.fields and (not isinstance(node, Section) or is_slot_entry(node))
        if isinstance(node, Section) and not is_entry:
            yield _group(writing, node, below)
        else:
            yield [_shown(_question(writing, node, below), writing.layers.get(below, ()), writing)]


def _group(writing: _Writing, section: Section, path: str) -> list[dict[str, Any]]:
    """A section: its group, and before it the tick with which it is offered."""
    name = field_table().section_names[path]
    inner = [item for each in _items(writing, section, path) for item in each]
    if not inner:
        inner = [{"linkId": f"{path}.empty", "text": "No setting.", "type": "display"}]
    coding = {"system": CODES, "code": path, "display": name}
    group = {"linkId": path, "code": [coding], "text": name, "type": "group", "item": inner}
    offered = writing.order_set.offered_sections.get(path)
    layers = writing.layers.get(path, ())
    if offered is None:
        return [_shown(group, layers, writing)]
    tick: dict[str, Any] = {
        "linkId": f"{path}.offered",
        "text": name,
        "type": "boolean",
        "required": True,
        "initial": [{"valueBoolean": offered.preset}],
    }
    is_in = {"question": tick["linkId"], "operator": "=", "answerBoolean": True}
    pair = [tick, {**group, "enableWhen": [is_in]}]
    if not layers:
        return pair
    around = {"linkId": f"{path}.shown", "type": "group", "item": pair}
    return [_shown(around, layers, writing)]


def _shown(item: dict[str, Any], layers: Sequence[Layer], writing: _Writing) -> dict[str, Any]:
    """An item that is shown where all layers hold: of several, each but the last is a group."""
    made = item
    for number, layer in reversed(list(enumerate(layers))):
        if number < len(layers) - 1:
            link_id = f"{item['linkId']}.shown-{number + 1}"
            made = {"linkId": link_id, "type": "group", "item": [made]}
        made["enableWhen"] = [_asked(term, writing.order_set) for term in layer.terms]
        if len(layer.terms) > 1:
            made["enableBehavior"] = layer.behavior
    return made


def _asked(term: AnswerTerm, order_set: OrderSet) -> dict[str, Any]:
    asked: dict[str, Any] = {"question": term.path}
    if term.text is None:
        return {**asked, "operator": "exists", "answerBoolean": term.is_given}
    asked["operator"] = "="
    if _is_fixed(order_set.slots[term.path]):
        return {**asked, "answerString": term.text}
    return {**asked, "answerCoding": _coding(term.text)}


def _is_fixed(slot: Slot) -> bool:
    is_one = slot.preset == 0 and len(slot.options) == 1
    return is_one and not slot.blank and slot.step is None


def _question(writing: _Writing, node: Node, path: str) -> dict[str, Any]:
    """The question of one setting, by the form of its entry in the set."""
    field = field_table().fields[path]
    order_set = writing.order_set
    slot = order_set.slots[path]
    for leaf in slot.options:
        if leaf.given and not leaf.to_be_written:
            _check_text(field, leaf, node.place)
    coding = {"system": CODES, "code": path, "display": field.name}
    made: dict[str, Any] = {"linkId": path, "code": [coding], "text": field.name}
    if slot.blank:
        made["text"] = slot.label
        return {key: value for key, value in {**made, **_blank(field, slot, node)}.items() if value}
    if _is_fixed(slot):
        return {**made, **_fixed(field, slot.options[0])}
    outside = {each.path for each in order_set.faults if each.rule == "preset-outside-options"}
    options = _options(slot, is_outside=path in outside)
    return {**made, **_steps(node), "type": "choice", "required": True, **options}


def _check_text(field: Field, leaf: Leaf, place: Place) -> None:
    """Raise Refused for a value that is read otherwise once it is a text in a Questionnaire."""
    form: Form = "number" if field.kind == "count" else "text"
    text = Scalar(leaf.text, leaf.text, form, leaf.place or place)
    again = read_leaf(field, text).leaf if has_allowed_form(field, text) else None
    if again is None or again.state is not leaf.state or not leaf.text.strip():
        name = in_sentence(field.name)
        why = "is not a text as an order has it, so that it has no place in a Questionnaire"
        raise Refused(f"What is written for the {name} {why}.", text.place)


def _fixed(field: Field, leaf: Leaf) -> dict[str, Any]:
    kind = {"count": "integer", "text": "text"}.get(field.kind, "string")
    value = {"valueInteger": int(leaf.text)} if kind == "integer" else {"valueString": leaf.text}
    return {"type": kind, "required": True, "readOnly": True, "initial": [value]}


def _blank(field: Field, slot: Slot, node: Node) -> dict[str, Any]:
    required = all(leaf.given for leaf in slot.options)
    if slot.step is None:
        return {"type": _BLANK_TYPES.get(field.kind, "string"), "required": required}
    steps = _steps(node)
    steps["extension"].append({"url": BLANK, "valueBoolean": True})
    return {**steps, "type": "choice", "required": required, **_options(slot)}


def _steps(node: Node) -> dict[str, Any]:
    """How far the options lie from one another, where the set has them in steps."""
    step = node.get("step") if isinstance(node, Section) else None
    if not isinstance(step, Scalar):
        return {}
    return {"extension": [{"url": STEP, "valueString": step.text.strip()}]}


def _options(slot: Slot, *, is_outside: bool = False) -> dict[str, Any]:
    """The answers from which one is picked; the preset `is_outside` if the set does not list it."""
    made = []
    for index, leaf in enumerate(slot.options):
        option: dict[str, Any] = {"valueCoding": _coding(leaf.text)}
        if index == slot.preset:
            option["initialSelected"] = True
            if is_outside:
                option["extension"] = [{"url": NOT_LISTED, "valueBoolean": True}]
        if leaf.given:
            made.append(option)
    return {"answerOption": made}


def _coding(text: str) -> dict[str, str]:
    """An answer by the text that would be signed, which is its code too where it can be one."""
    return {**({"code": text} if _CODE.fullmatch(text) else {}), "display": text}
