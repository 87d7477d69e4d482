"""Checks the orders in a request: a card for each order of ours, none for another.

Joins what was found of them, the cards and the kept pages. Never a word of its own.
"""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from orderlint.finding import Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Section
from orderlint.report.order.blocks import as_page
from orderlint.report.order.card import FAULT, Card, card, card_of_unread
from orderlint.report.unchecked_files import Unread
from orderlint.service.hooks import DraftOrders
from orderlint.service.orders import FILE
from orderlint.service.pages import Kept

if TYPE_CHECKING:
    from collections.abc import Callable

    from orderlint.assessment import Assessment
    from orderlint.service.hooks import UnreadOrders
    from orderlint.service.orders import Found, Reader
    from orderlint.service.pages import KeptPages


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
    """Has orders checked, and keeps the pages that cards lead to.

    `now` gives the instant of checking, in milliseconds since 1970 UTC; `address` is that of a
    page by its name.
    """

    reader: Reader
    now: Callable[[], int]
    pages: KeptPages
    address: Callable[[str], str]

    def cards(self, orders: DraftOrders | UnreadOrders, *, is_drafted: bool) -> list[Answered]:
        """The card on each order of ours, in the order of the Bundle."""
        at = self.now()
        found = [*self.reader.found(orders, at)]
        text, patient, digest = "", "", None
        if isinstance(orders, DraftOrders):
            text, patient, digest = orders.text, orders.patient, digest_of(orders.text)
        whole = Kept(text, 0, at, "", len(found), patient)
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
        found = [*self.reader.found(orders, kept.at)][kept.number]
        assert not isinstance(found, Exception)  # INVARIANT: then `why` would be given
        return as_page([found], (), {found.file: digest_of(kept.text)}, kept.at)

    def _answered(self, found: Found, kept: Kept, digest: str | None, is_drafted: bool) -> Answered:
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


def digest_of(text: str) -> str:
    """The SHA-256 of a text's bytes, in hexadecimal digits."""
    return hashlib.sha256(text.encode()).hexdigest()
