"""Checks the orders in a request: a card for each order of ours, none for another.

Ours is what has a code of ours, or of the site's, and none of it is met with silence. Joins what
was found of orders, the cards and the kept pages. Never a word about a finding.
"""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from orderlint.fhir.bundle.reading import orders_in
from orderlint.fhir.bundle.requests import is_ours
from orderlint.fhir.bundle.resources import REQUESTS
from orderlint.fhir.codes import CODES
from orderlint.fhir.element import Element, made
from orderlint.finding import Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Listing, Node, Scalar, Section, nest_paths
from orderlint.report.order.blocks import as_page
from orderlint.report.order.hooks_card import FAULT, Card, card, card_of_unread
from orderlint.report.unchecked_files import Unread
from orderlint.service.hooks import DraftOrders, UnreadOrders
from orderlint.service.pages import KeptPage, KeptPages
from orderlint.verification import Verified, verify_bundle

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Set

    from orderlint.assessment import Assessment
    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.rulebook.rule import Rulebook

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


class CheckedOrder(NamedTuple):
    """What was found of one order, as a record has it: by ids and digests.

    `card` is the id of its card, `digest` the SHA-256 of the text of the Bundle it stands in, None
    where that could not be read. `assessment` is None where nothing was checked; `fault` is what
    failed, if it was the tool.
    """

    card: str
    digest: str | None
    at: int
    assessment: Assessment | None = None
    fault: Exception | None = None


class Answered(NamedTuple):
    """A card, and what was found of its order."""

    card: dict[str, Any]
    checked: CheckedOrder


@dataclass(frozen=True, slots=True)
class Checker:
    """Finds orders by the codes of ours and those of a site, checks them by one rulebook, and keeps
    the pages that cards lead to.

    `now` gives the instant of checking, in milliseconds since 1970 UTC; `address` is that of a
    page by its name.
    """

    rulebook: Rulebook
    concept_map: ConceptMap
    now: Callable[[], int]
    pages: KeptPages
    address: Callable[[str], str]

    def cards(self, orders: DraftOrders | UnreadOrders, *, is_drafted: bool) -> list[Answered]:
        """The card on each order of ours, in the order of the Bundle."""
        at = self.now()
        found = [*self._found(orders, at)]
        text, patient, digest = "", "", None
        if isinstance(orders, DraftOrders):
            text, patient, digest = orders.text, orders.patient, text_digest(orders.text)
        whole = KeptPage(text, 0, at, "", len(found), patient)
        return [
            self._answered(each, whole._replace(number=number), digest, is_drafted)
            for number, each in enumerate(found)
        ]

    def page(self, name: str) -> str | None:
        """The page that a card led to; None if there is none, or no longer."""
        kept = self.pages.get(name)
        if kept is None:
            return None
        if kept.why:
            return as_page((), [Unread(FILE, kept.why)], {}, kept.at)
        bundle = read_json(kept.text, FILE)
        assert isinstance(bundle, Section)  # INVARIANT: it was one when its card was made
        orders = DraftOrders(bundle, kept.text, kept.patient)
        found = [*self._found(orders, kept.at)][kept.number]
        assert not isinstance(found, Exception)  # INVARIANT: then `why` would be given
        return as_page([found], (), {found.file: text_digest(kept.text)}, kept.at)

    def _answered(
        self, found: Found, kept: KeptPage, digest: str | None, is_drafted: bool
    ) -> Answered:
        name = str(uuid.uuid4())
        if isinstance(found, Exception):
            why = found.message if isinstance(found, Refused) else FAULT
            about = self._about(name, kept._replace(text="", why=why))
            fault = None if isinstance(found, Refused) else found
            checked = CheckedOrder(name, digest, kept.at, None, fault)
            return Answered(card_of_unread(why, about), checked)
        about = self._about(name, kept)
        checked = CheckedOrder(name, digest, kept.at, found.assessment)
        return Answered(card(found, about, is_drafted=is_drafted), checked)

    def _about(self, name: str, kept: KeptPage) -> Card:
        return Card(name, self.address(self.pages.keep(kept)), kept.number + 1, kept.of)

    def _found(self, orders: DraftOrders | UnreadOrders, at: int) -> Iterator[Found]:
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


def text_digest(text: str) -> str:
    """The SHA-256 of a text's bytes, in hexadecimal digits."""
    return hashlib.sha256(text.encode()).hexdigest()


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
    place = bundle.place
    kind = nest_paths({"type": made("collection", place)}, place)
    return Section((*bundle.entries, *kind.entries), place)
