"""Reads a FHIR R4 Questionnaire as an order set: each question is the entry of a setting.

What is made is judged by the set's own reader. What is not understood leaves the set unsettled, so
that nothing is proved of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from orderlint.fhir.concept_map import OURS, ConceptMap
from orderlint.fhir.conversion import Conversion, ConvertedSetting
from orderlint.fhir.element import Element, made
from orderlint.fhir.questionnaire.elements import QUESTIONNAIRE
from orderlint.fhir.questionnaire.enable_when_reading import SettingQuestion, condition_of
from orderlint.fhir.questionnaire.form import Form, read_form
from orderlint.fhir.questionnaire.head import read_head_elements
from orderlint.fhir.questionnaire.items import Item, UnclearError
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.order_set.as_yaml import in_one_line, order_set_yaml
from orderlint.order_set.read import OFFERED
from orderlint.order_set.slot_reader import is_slot_entry
from orderlint.reading.document import Document
from orderlint.reading.node import KeyValue, Node, Scalar, Section, nest_paths
from orderlint.schema_check import known_nodes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    _Sections: TypeAlias = dict[str, dict[str, Node | None]]


def is_questionnaire(root: Section) -> bool:
    """Whether a file is a Questionnaire."""
    return Element(root, QUESTIONNAIRE).resource_type == QUESTIONNAIRE


def set_document(root: Section, file: str, codes: ConceptMap = OURS) -> Document:
    """The order set that a Questionnaire is, as a document whose places are those in the file.

    Settings are known by `codes` too, which a site has. What is not understood is among its
    `not_understood`. Raises Refused where the items cannot be told apart, or the standard forbids
    to go on.
    """
    form = read_form(Element(root, QUESTIONNAIRE), codes)
    order = _order(form)
    head, of_head = read_head_elements(form.root)
    place = form.root.place
    entries = {
        "document": made("order-set", place),
        "format": Scalar("1", "1", "number", place),
        **head,
        "order": order,
    }
    faults = sorted((*form.faults, *of_head), key=lambda fault: fault.place)
    return Document(file, "order-set", nest_paths(entries, place), tuple(faults))


def refusals(document: Document) -> tuple[Refused, ...]:
    """Why an order set that was read from a Questionnaire is not written as a set: all that is not
    understood and may change what can be signed.
    """
    return tuple(
        Refused(
            f"The {fault.details['name']} has no place in an order set: {fault.details['reason']}",
            fault.place,
        )
        for fault in document.not_understood
    )


def set_of(document: Document, codes: ConceptMap = OURS) -> Conversion:
    """The order set of a Questionnaire, and all that is not understood, if anything is not.

    `codes` are those of a site. Raises Refused where the questions cannot be told apart.
    """
    order_set = set_document(document.root, document.file, codes)
    refused = tuple(map(str, refusals(order_set)))
    text = "" if refused else order_set_yaml(order_set.root)
    moved = tuple(moved_between(order_set, document.root, codes))
    return Conversion(document.file, text, moved, refused=refused)


def moved_between(
    order_set: Document, questionnaire: Section, codes: ConceptMap = OURS
) -> Iterator[ConvertedSetting]:
    """Each setting of a set that a Questionnaire says as well, and its question."""
    questions = read_form(Element(questionnaire, QUESTIONNAIRE), codes).about
    for path, node in _entries(order_set):
        if path in questions:
            yield ConvertedSetting(
                path, in_one_line(node), node.place, (questions[path].element.path,)
            )


def _entries(order_set: Document) -> Iterator[tuple[str, Node]]:
    """What a set says of each setting; a section with settings of its own is none."""
    table, order = field_table(), order_set.root.get("order")
    assert isinstance(order, Section)  # INVARIANT: reading refuses a set without an order
    for path, node in known_nodes(order, table)[0]:
        is_entry = not isinstance(node, Section) or is_slot_entry(node)
        if path in table.fields and is_entry:
            yield path, node


def _order(form: Form) -> Section:
    """The tree of the order, in which each section has its settings as the form has them."""
    questions = {
        name: SettingQuestion(form.items[name].path, entry.answers, is_always=form.is_always(name))
        for name, entry in form.entries.items()
    }
    below: _Sections = {"": {}}
    for path, item in form.about.items():
        if not item.section and item.link_id not in form.entries:
            continue
        head = path.rpartition(".")[0]
        if head in form.about and not form.about[head].section:  # an additive that is a word
            item.note("it is a part of what is one value")
            continue
        parent = _opened(below, head)
        gate = _gate(form, item, questions)
        if item.section:
            _opened(below, path).update({**gate, **_tick(form, item)})
        else:
            entry = form.entries[item.link_id].node
            shown = (KeyValue(made(key, node.place), node) for key, node in gate.items())
            parent[path] = entry._replace(entries=(*entry.entries, *shown))
    return _assembled(form, "", below)


def _opened(below: _Sections, path: str) -> dict[str, Node | None]:
    """The parts of a section, which stands in those around it from now on."""
    if path not in below:
        _opened(below, path.rpartition(".")[0]).setdefault(path, None)
        below[path] = {}
    return below[path]


def _gate(form: Form, item: Item, questions: Mapping[str, SettingQuestion]) -> Mapping[str, Node]:
    clauses = form.gates.get(item.path)
    try:
        return condition_of(clauses, questions) if clauses else {}
    except UnclearError as error:
        item.note(error.reason, error.place)
        return {}


def _tick(form: Form, item: Item) -> Mapping[str, Node]:
    tick = form.offered.get(item.path)
    if tick is None:
        return {}
    initial, place = tick.element.items("initial"), tick.element.place
    is_in = bool(initial) and initial[0].text("valueBoolean") == "true"
    return {OFFERED: nest_paths({"preset": made("in" if is_in else "out", place)}, place)}


def _assembled(form: Form, path: str, below: _Sections) -> Section:
    item = form.about.get(path)
    place = item.element.place if item is not None else form.root.place
    entries = tuple(
        KeyValue(
            made(key.rpartition(".")[2], place),
            _assembled(form, key, below) if node is None else _plain(node),
        )
        for key, node in below[path].items()
    )
    return Section(entries, place)


def _plain(node: Node) -> Node:
    """A fixed value that is always shown, as it is; any other entry."""
    keys = [entry.key.text for entry in node.entries] if isinstance(node, Section) else []
    return node.entries[0].value if isinstance(node, Section) and keys == ["fixed"] else node
