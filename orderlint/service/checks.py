"""Checks the orders in a request: a card for each order of ours, none for another.

Joins the reader of Bundles, the check, the cards and the kept pages. Never a word of its own.
"""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from orderlint.fhir.bundle import orders_in
from orderlint.fhir.codes import CODES
from orderlint.finding import Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import KeyValue, Scalar, Section
from orderlint.report.order.blocks import as_page
from orderlint.report.order.card import FAULT, Card, card, card_of_unread
from orderlint.report.unchecked_files import Unread
from orderlint.service.hooks import DraftOrders, UnreadOrders, mentions
from orderlint.service.pages import Kept
from orderlint.service.plain_json import plain_json
from orderlint.verification import verify_bundle

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from orderlint.assessment import Assessment
    from orderlint.fhir.concept_map import ConceptMap
    from orderlint.rulebook.rule import Rulebook
    from orderlint.service.pages import KeptPages
    from orderlint.verification import Verified

    _Found: TypeAlias = Verified | Exception

FILE = "draftOrders"
"""What the Bundle of a request is called in reports."""

MOST_ORDERS = 200
"""Orders in one request: a prescriber signs one or two."""
_TOO_MANY = f"The request holds more than {MOST_ORDERS} orders with settings of ours."


class Checked(NamedTuple):
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
    checked: Checked


@dataclass(frozen=True, slots=True)
class Checker:
    """Checks orders by one rulebook, and keeps the pages that cards lead to.

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
        if isinstance(orders, UnreadOrders):
            found: list[_Found] = [orders.why] if self._are_ours(orders) else []
            text, digest = "", None
        else:
            found = [*self._found(orders, at)]
            text, digest = orders.text, digest_of(orders.text)
        return [
            self._answered(each, Kept(text, number, at, "", len(found)), digest, is_drafted)
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
        found = [*self._found(DraftOrders(bundle, kept.text), kept.at)][kept.number]
        assert not isinstance(found, Exception)  # INVARIANT: then `why` would be given
        return as_page([found], (), {found.file: digest_of(kept.text)}, kept.at)

    def _are_ours(self, orders: UnreadOrders) -> bool:
        """Whether codes of ours, or of the site's, stand in what could not be read."""
        return mentions(orders, {CODES, *(system for system, _ in self.concept_map.codes)})

    def _found(self, orders: DraftOrders, at: int) -> Iterator[_Found]:
        """Each order of ours as it was checked, or why it was not."""
        try:
            found = orders_in(_typed(orders.bundle), FILE, self.concept_map, alone=False)
        except Exception as reason:
            plain = plain_json(orders.text.encode())
            if self._are_ours(UnreadOrders(plain, orders.text, reason)):
                yield reason
            return
        if len(found) > MOST_ORDERS:
            yield Refused(_TOO_MANY, FILE)
            return
        for order in found:
            try:
                yield verify_bundle(order, at, self.rulebook)
            except Exception as reason:
                yield reason

    def _answered(
        self, found: _Found, kept: Kept, digest: str | None, is_drafted: bool
    ) -> Answered:
        name = str(uuid.uuid4())
        if isinstance(found, Exception):
            why = found.message if isinstance(found, Refused) else FAULT
            about = self._about(name, kept._replace(text="", why=why))
            fault = None if isinstance(found, Refused) else found
            checked = Checked(name, digest, kept.at, None, fault)
            return Answered(card_of_unread(why, about), checked)
        about = self._about(name, kept)
        checked = Checked(name, digest, kept.at, found.assessment)
        return Answered(card(found, about, is_drafted=is_drafted), checked)

    def _about(self, name: str, kept: Kept) -> Card:
        return Card(name, self.address(self.pages.keep(kept)), kept.number + 1, kept.of)


def _typed(bundle: Section) -> Section:
    """The Bundle with a type: CDS Hooks shows drafts in one without, though FHIR asks for it."""
    if bundle.get("type") is not None:
        return bundle
    key, value = (Scalar(text, text, "text", bundle.place) for text in ("type", "collection"))
    return Section((*bundle.entries, KeyValue(key, value)), bundle.place)


def digest_of(text: str) -> str:
    """The SHA-256 of a text's bytes, in hexadecimal digits."""
    return hashlib.sha256(text.encode()).hexdigest()
