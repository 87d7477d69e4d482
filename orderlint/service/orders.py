"""Finds and checks the orders of ours in what a hook brings. None of them is met with silence.

Ours is what has a code of ours, or of the site's. Never a card, and never a word about a finding.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from orderlint.fhir.bundle.reading import orders_in
from orderlint.fhir.bundle.requests import is_ours
from orderlint.fhir.bundle.resources import REQUESTS
from orderlint.fhir.codes import CODES
from orderlint.fhir.element import Element
from orderlint.finding import Refused
from orderlint.reading.node import KeyValue, Listing, Scalar, Section
from orderlint.service.hooks import UnreadOrders
from orderlint.verification import Verified, verify_bundle

if TYPE_CHECKING:
    from collections.abc import Iterator, Set

    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.reading.node import Node
    from orderlint.rulebook.rule import Rulebook
    from orderlint.service.hooks import DraftOrders

Found: TypeAlias = Verified | Exception
"""An order as it was checked; else why it was not: Refused, or a fault of the tool."""

FILE = "draftOrders"
"""What the Bundle of a request is called in reports."""
MOST_ORDERS = 200
"""Orders in one request: a prescriber signs one or two."""
_TOO_MANY = f"The request holds more than {MOST_ORDERS} orders with settings of ours."
_STRAY = "Settings of ours stand here in what is read as no order."
_DRUG_PARTS = frozenset({"MedicationRequest", "Medication"})
"""What belongs to an order of ours is read with it; of others nothing is asked."""


@dataclass(frozen=True, slots=True)
class Reader:
    """Finds orders by the codes of ours and those of a site, and checks them by one rulebook."""

    rulebook: Rulebook
    concept_map: ConceptMap

    def found(self, orders: DraftOrders | UnreadOrders, at: int) -> Iterator[Found]:
        """Each order of ours, first to last, as of `at`, in milliseconds since 1970 UTC."""
        if isinstance(orders, UnreadOrders):
            if may_have(orders, self._systems()):
                yield orders.why
            return
        try:
            bundle, patient = _typed(orders.bundle), orders.patient
            found = orders_in(bundle, FILE, self.concept_map, alone=False, patient=patient)
            strays = self._strays(orders.bundle, is_alone=not found)
        except Exception as reason:
            if has_code(orders.bundle, self._systems()):
                yield reason
            return
        if len(found) + len(strays) > MOST_ORDERS:
            yield Refused(_TOO_MANY, FILE)
            return
        for order in found:
            try:
                yield verify_bundle(order, at, self.rulebook)
            except Exception as reason:
                yield reason
        yield from strays

    def _strays(self, bundle: Section, *, is_alone: bool) -> list[Refused]:
        """What has a code of ours and is read as no order; `is_alone` if there is no order."""
        entries = bundle.get("entry")
        items = entries.items if isinstance(entries, Listing) else ()
        found = [item for item in items if self._is_stray(item)]
        if is_alone and not found and has_code(bundle, self._systems()):
            found.append(bundle)
        return [Refused(_STRAY, item.place) for item in found]

    def _is_stray(self, entry: Node) -> bool:
        resource = entry.get("resource") if isinstance(entry, Section) else None
        if isinstance(resource, Section):
            read = Element(resource, "resource")
            is_order = read.resource_type in REQUESTS and is_ours(read, self.concept_map)
            if is_order or read.resource_type in _DRUG_PARTS:
                return False
        return has_code(entry, self._systems())

    def _systems(self) -> Set[str]:
        return {CODES, *(system for system, _ in self.concept_map.codes)}


def has_code(node: Node, systems: Set[str]) -> bool:
    """Whether a code of one of these systems stands anywhere in a node."""
    if isinstance(node, Scalar):
        return False
    if isinstance(node, Listing):
        return any(has_code(item, systems) for item in node.items)
    return any(
        (entry.value.text in systems and entry.key.text == "system")
        if isinstance(entry.value, Scalar)
        else has_code(entry.value, systems)
        for entry in node.entries
    )


def may_have(orders: UnreadOrders, systems: Set[str]) -> bool:
    """Whether a code of one of these systems may stand there, in whatever way it is written.

    Of two equal keys plain JSON has only the last; the text has both.
    """
    text = orders.text.replace("\\/", "/")
    if any(system in text for system in systems):
        return True
    waiting = [orders.orders]
    while waiting:
        each = waiting.pop()
        if isinstance(each, dict):
            if each.get("system") in systems:
                return True
            waiting.extend(each.values())
        elif isinstance(each, list):
            waiting.extend(each)
    return False


def _typed(bundle: Section) -> Section:
    """The Bundle with a type: CDS Hooks shows drafts in one without, though FHIR asks for it."""
    if bundle.get("type") is not None:
        return bundle
    key, value = (Scalar(text, text, "text", bundle.place) for text in ("type", "collection"))
    return Section((*bundle.entries, KeyValue(key, value)), bundle.place)
