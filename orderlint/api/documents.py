"""Reads orders and order sets, of their own form or of FHIR by the codes of a site.

The one place that knows how a document becomes an order or a set. Never a rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from orderlint.api.sources import content_of
from orderlint.order_reader import read_order
from orderlint.reading import FHIR

if TYPE_CHECKING:
    from orderlint.api.sources import Content, Source
    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.order import Order
    from orderlint.reading import Document

    Codes: TypeAlias = ConceptMap | Source | None
    """A concept map that was loaded, or the source of one; None for our own codes alone."""


def load_concept_map(source: Source, *, name: str | None = None) -> ConceptMap:
    """Read a ConceptMap of FHIR once: which codes of a site are which settings.

    `source` is as for orderlint.verify. Raises Refused, with line and column, at the first mistake
    in it.

    >>> system, order = "https://orderlint.example/fhir/order-settings", [{"code": "order",
    ...     "equivalence": "equal"}]
    >>> group = {"source": "https://site.example/codes", "target": system,
    ...     "element": [{"code": "EVD-1", "target": order}]}
    >>> load_concept_map({"resourceType": "ConceptMap", "group": [group]}).codes
    {('https://site.example/codes', 'EVD-1'): 'order'}
    """
    from orderlint.fhir.concept_map import read_concept_map  # noqa: PLC0415 - cold start

    return read_concept_map(content_of(source, name).read(FHIR))


def order_in(document: Document, codes: Codes = None) -> Order:
    """The order that a document is, or that a resource of FHIR holds. Raises Refused."""
    if document.kind != FHIR:
        return read_order(document)
    from orderlint.fhir.bundle.reading import only_one, order_of  # noqa: PLC0415 - few come in a Bundle

    return order_of(only_one(document, _loaded(codes)))


def set_in(content: Content, codes: Codes = None) -> Document:
    """The order set in a file, also one that is written as a Questionnaire. Raises Refused."""
    document = as_set(content.read(), codes)
    return document if document.kind == "order-set" else content.read("order-set")


def as_set(document: Document, codes: Codes = None) -> Document:
    """A Questionnaire as the order set that it is; any other document as it is. Raises Refused."""
    if document.kind != FHIR:
        return document
    from orderlint.fhir.concept_map import OURS  # noqa: PLC0415 - cold start
    from orderlint.fhir.questionnaire.reading import is_questionnaire, set_document  # noqa: PLC0415

    root = document.root
    if not is_questionnaire(root):
        return document
    return set_document(root, document.file, _loaded(codes) or OURS)


def _loaded(codes: Codes) -> ConceptMap | None:
    from orderlint.fhir.concept_map import ConceptMap  # noqa: PLC0415 - cold start

    return codes if codes is None or isinstance(codes, ConceptMap) else load_concept_map(codes)
