"""Reads orders, from files of their own or from resources of FHIR by the codes of a site.

The one place that knows how a document becomes an order. Never a rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from orderlint.api.sources import content_of
from orderlint.order_reader import read_order
from orderlint.reading import FHIR

if TYPE_CHECKING:
    from orderlint.api.sources import Source
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
    from orderlint.fhir.bundle import one_order_in  # noqa: PLC0415 - few orders come in a Bundle
    from orderlint.fhir.concept_map import ConceptMap  # noqa: PLC0415

    if codes is not None and not isinstance(codes, ConceptMap):
        codes = load_concept_map(codes)
    return one_order_in(document, codes)
