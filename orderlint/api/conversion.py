"""Writes orders and order sets as resources of FHIR, and back. Never a value that was not written.

What is found in the document must be found in what is written, or nothing is written. Nor is
it where something is not understood, which keeps a Bundle incomplete and not the order by itself;
but a free text beside the settings in which no setting may stand is kept in a comment.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from orderlint import verification
from orderlint.api.instants import present_instant
from orderlint.api.policies import rulebook_for
from orderlint.api.renderers import RENDERERS
from orderlint.api.sources import Content
from orderlint.fhir.bundle.reading import BundleOrder, only_one, order_of
from orderlint.fhir.bundle.texts_beside_settings import notes_not_understood
from orderlint.fhir.bundle.writing import bundle_text, texts_of
from orderlint.fhir.codes import HEAD
from orderlint.fhir.concept_map import OURS, ConceptMap
from orderlint.fhir.conversion import Conversion, ConvertedSetting
from orderlint.fhir.element import Element
from orderlint.fhir.questionnaire.elements import QUESTIONNAIRE
from orderlint.fields import field_table
from orderlint.finding import Finding, NotUnderstood
from orderlint.order_reader import read_order
from orderlint.reading import FHIR, Document
from orderlint.reading.node import Scalar
from orderlint.report import convert
from orderlint.schema_check import known_nodes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Order


def to_fhir(content: Content) -> Conversion:
    """An order as a Bundle, an order set as a Questionnaire. Raises Refused."""
    document = content.read_one_of("order", "order-set")
    if document.kind == "order":
        return _bundle_of(document)
    from orderlint.fhir.questionnaire.writing import questionnaire_of  # noqa: PLC0415 - a set alone

    return questionnaire_of(document)


def to_orderlint(content: Content, codes: ConceptMap | None = None) -> Conversion:
    """The one order of a Bundle, by a site's codes too, or a set. Raises Refused."""
    document = content.read(FHIR)
    if Element(document.root, "").resource_type != QUESTIONNAIRE:
        return _order_of(only_one(document, codes))
    from orderlint.fhir.questionnaire.reading import set_of  # noqa: PLC0415 - a set alone

    return set_of(document, codes or OURS)


def _bundle_of(document: Document) -> Conversion:
    """The Bundle of an order, and where each setting stands in it."""
    texts, refused = texts_of(document)
    if refused:
        return Conversion(document.file, "", (), (), tuple(map(str, refused)))
    text = bundle_text(texts)
    written = only_one(Content(document.file, text.encode(), json=True).read(FHIR))
    if _texts(written.document) != texts or written.faults or written.not_understood:
        raise AssertionError("a Bundle of ours is read as another order than was written")
    places = {path: node.place for path, node in _values(document)}
    moved = tuple(
        ConvertedSetting(path, texts[path], places[path], _paths(written, path))
        for path in field_table().fields
        if path in texts
    )
    return Conversion(document.file, text, moved)


def _paths(found: BundleOrder, path: str) -> tuple[str, ...]:
    return tuple(place.element for place in found.places[path])


def _values(document: Document) -> Iterator[tuple[str, Scalar]]:
    for path, node in known_nodes(document.root, field_table())[0]:
        if isinstance(node, Scalar) and path not in HEAD:
            yield path, node


def _texts(document: Document) -> Mapping[str, str]:
    return {path: node.text for path, node in _values(document)}


def _order_of(found: BundleOrder) -> Conversion:
    """The order in what was read, and why it is not written, if it is not."""
    order, document = order_of(found), found.document
    texts = _texts(document)
    moved = tuple(
        ConvertedSetting(path, text, found.places[path][0], _paths(found, path))
        for path, text in texts.items()
    )
    notes = (
        NotUnderstood(scalar.place.element, scalar.text, convert.BESIDE, scalar.place)
        for _, scalar in found.notes
    )
    made = Conversion(document.file, "", moved, (*found.not_understood, *notes))
    refused = (*map(convert.unsaid_words, _unsaid(found, order)), *_lost(order, made))
    if refused:
        return made._replace(refused=refused)
    return made._replace(text=_order_text(made))


def _order_text(made: Conversion) -> str:
    text: str = RENDERERS["convert", "order"](made, {})
    return text


def _unsaid(found: BundleOrder, order: Order) -> Iterator[NotUnderstood]:
    """What is not understood, and would not be said in the order; a comment says no setting."""
    yield from found.not_understood
    for note in notes_not_understood(found.notes, order):
        if note.may_hold_setting:
            yield note._replace(why=convert.BESIDE)


def _lost(order: Order, made: Conversion) -> Iterator[str]:
    """What is found in the resource and would not be found in the order that is made of it."""
    content = Content(made.file, _order_text(made).encode(), json=False)
    written = Counter(_key(each) for each in _findings(read_order(content.read("order"))))
    for each in _findings(order):
        written[_key(each)] -= 1
        if written[_key(each)] < 0:
            yield convert.lost_words(each)


def _findings(order: Order) -> tuple[Finding, ...]:
    found = verification.verify_order(order, present_instant(), rulebook_for("order", None))
    return found.assessment.findings


def _key(finding: Finding) -> tuple[str, frozenset[tuple[str, str]]]:
    """What two findings have in common that say the same of the same settings."""
    others = ((mention.path, mention.written) for mention in finding.also)
    return finding.rule, frozenset({(finding.path, finding.written), *others})
