"""Writes an order set as a Questionnaire of FHIR, and back, with where each setting is from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.api.sources import Content
from orderlint.fhir.concept_map import OURS
from orderlint.fhir.conversion import Conversion, Moved
from orderlint.fhir.element import Element
from orderlint.fhir.questionnaire.elements import QUESTIONNAIRE
from orderlint.fhir.questionnaire.form import read_form
from orderlint.fhir.questionnaire.reading import refusals, set_document
from orderlint.fhir.questionnaire.writing import questionnaire_text
from orderlint.fields import field_table
from orderlint.order_set.as_yaml import in_one_line, order_set_yaml
from orderlint.order_set.slot_reader import is_slot_entry
from orderlint.reading import FHIR
from orderlint.reading.node import Section
from orderlint.schema_check import known_nodes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.reading import Document
    from orderlint.reading.node import Node


def questionnaire_of(document: Document) -> Conversion:
    """The Questionnaire of an order set. Raises Refused where a part has no place in one."""
    text = questionnaire_text(document)
    written = Content(document.file, text.encode(), json=True).read(FHIR)
    moved = tuple(_moved(document, written.root))
    return Conversion(document.file, text, moved)


def set_of(document: Document, codes: ConceptMap | None = None) -> Conversion:
    """The order set of a Questionnaire, and all that is not understood, if anything is not.

    `codes` are those of a site. Raises Refused where the questions cannot be told apart.
    """
    order_set = set_document(document.root, document.file, codes or OURS)
    refused = tuple(map(str, refusals(order_set)))
    text = "" if refused else order_set_yaml(order_set.root)
    moved = tuple(_moved(order_set, document.root, codes or OURS))
    return Conversion(document.file, text, moved, refused=refused)


def _moved(
    order_set: Document, questionnaire: Section, codes: ConceptMap = OURS
) -> Iterator[Moved]:
    """Each setting of a set, and its question."""
    questions = read_form(Element(questionnaire, QUESTIONNAIRE), codes).about
    for path, node in _entries(order_set):
        if path in questions:
            yield Moved(path, in_one_line(node), node.place, (questions[path].element.path,))


def _entries(order_set: Document) -> Iterator[tuple[str, Node]]:
    """What a set says of each setting; a section with settings of its own is none."""
    table, order = field_table(), order_set.root.get("order")
    assert isinstance(order, Section)  # INVARIANT: reading refuses a set without an order
    for path, node in known_nodes(order, table)[0]:
        is_entry = not isinstance(node, Section) or is_slot_entry(node)
        if path in table.fields and is_entry:
            yield path, node
