"""Reads what clients send by CDS Hooks 2.0, and says which hooks are answered.

Of a request the orders, with their text; of feedback the ids of cards, outcomes and reasons that
were offered. Never what is written in an order, and never a comment, which may be about a patient.
"""

from __future__ import annotations

import json
import uuid
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Place, Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Scalar, Section
from orderlint.reading.unicode_checks import decode_text
from orderlint.report.order.hooks_card import OVERRIDE_SYSTEM, OVERRIDES

if TYPE_CHECKING:
    from collections.abc import Mapping


REQUEST = "the request"
"""What the text of a request is called in places."""


class Hook(NamedTuple):
    """A hook that is answered: its name, which is its service's id as well, and what it is for."""

    name: str
    title: str
    description: str
    lists: tuple[str, ...] = ()


HOOKS: Mapping[str, Hook] = {
    "order-sign": Hook(
        "order-sign",
        "Check of orders for ventricular irrigation and drainage",
        "Checks each order for ventricular irrigation and drainage before it is signed. It asks; "
        "it never changes an order.",
    ),
    "order-select": Hook(
        "order-select",
        "Check of orders for ventricular irrigation and drainage, as they are written",
        "Checks each order for ventricular irrigation and drainage while it is written, as far as "
        "it is. It asks; it never changes an order.",
        ("selections",),
    ),
}
"""By the id of its service, in the order of discovery. `lists` must be in its context."""
_TEXTS = ("userId", "patientId")
"""What must be in the context of either hook."""
OUTCOMES = ("accepted", "overridden")
MOST_AT_ONCE = 100
"""Outcomes in one report."""
_OFFERED = frozenset(code for code, _ in OVERRIDES)


def discovery() -> dict[str, object]:
    """What services there are. None asks that data be fetched for it beforehand."""
    services = [
        {"hook": hook.name, "title": hook.title, "description": hook.description, "id": hook.name}
        for hook in HOOKS.values()
    ]
    return {"services": services}


class NotReadError(ValueError):
    """A body that is not what its address takes: a request of a hook, or feedback."""


class UnreadOrders(NamedTuple):
    """Orders that are refused: as plain JSON, the text in which they stand, and why they are."""

    orders: object
    text: str
    why: Exception


class DraftOrders(NamedTuple):
    """The orders in a request: a Bundle as nodes, and its text.

    `patient` is the id of the one whose record is open.
    """

    bundle: Section
    text: str
    patient: str


def read_hook(body: bytes, hook: Hook) -> DraftOrders | UnreadOrders:
    """The orders in a request. Raises NotReadError where it is no request of this hook."""
    orders = _checked(plain_json(body), hook)
    try:
        text = decode_text(body, REQUEST)
        root = read_json(text, REQUEST)
    except Refused as reason:
        return UnreadOrders(orders, body.decode(), reason)
    context = root.get("context") if isinstance(root, Section) else None
    # INVARIANT: the same text has just been seen to have it, and both of these.
    assert isinstance(context, Section)
    bundle, patient = context.get("draftOrders"), context.get("patientId")
    assert isinstance(bundle, Section)
    assert isinstance(patient, Scalar)
    return DraftOrders(bundle, _cut(text, bundle.place), patient.text)


def _checked(said: object, hook: Hook) -> object:
    """The orders of a request that has all that its hook must have. Raises NotReadError."""
    if not isinstance(said, dict) or said.get("hook") != hook.name:
        raise NotReadError
    context = said.get("context")
    if not isinstance(context, dict):
        raise NotReadError
    texts = (said.get("hookInstance"), *(context.get(name) for name in _TEXTS))
    if not all(isinstance(text, str) and text for text in texts):
        raise NotReadError
    for name in hook.lists:
        items = context.get(name)
        if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
            raise NotReadError
    orders = context.get("draftOrders")
    if not isinstance(orders, dict) or orders.get("resourceType") != "Bundle":
        raise NotReadError
    return orders


def _cut(text: str, place: Place) -> str:
    """The text of the object that begins at a place."""
    before = text.split("\n", place.line - 1)[: place.line - 1]
    start = sum(len(line) + 1 for line in before) + place.column - 1
    _, end = _DECODER.raw_decode(text, start)
    return text[start:end]


def _left_out(_number: str) -> None:
    return None


_DECODER = json.JSONDecoder(parse_int=_left_out, parse_float=_left_out, parse_constant=_left_out)


def plain_json(body: bytes) -> object:
    """The value in a text in UTF-8 by the standard library, to see what a body is.

    Each number of it is None: none is looked at, and so they cost nothing, however long. Raises
    NotReadError for what is no JSON, or goes deeper than the parser.
    """
    try:
        return _DECODER.decode(body.decode("utf-8").removeprefix("\ufeff"))
    except (ValueError, RecursionError):
        raise NotReadError from None


class Feedback(NamedTuple):
    """What became of one card.

    `reason` is the code of one of the reasons that cards offer; None where there is none, or
    another. `at` is when, in UTC.
    """

    card: str
    outcome: str
    reason: str | None
    at: datetime


def read_feedback(body: bytes) -> list[Feedback]:
    """The outcomes in a report, in its order. Raises NotReadError where it is none."""
    said = plain_json(body)
    items = said.get("feedback") if isinstance(said, dict) else None
    if not isinstance(items, list) or not 0 < len(items) <= MOST_AT_ONCE:
        raise NotReadError
    return [_outcome(item) for item in items]


def _outcome(item: object) -> Feedback:
    if not isinstance(item, dict) or item.get("outcome") not in OUTCOMES:
        raise NotReadError
    return Feedback(
        _card(item.get("card")),
        item["outcome"],
        _reason(item.get("overrideReason")),
        _instant(item.get("outcomeTimestamp")),
    )


def _card(said: object) -> str:
    """The id of a card in its usual form."""
    try:
        return str(uuid.UUID(said if isinstance(said, str) else ""))
    except ValueError:
        raise NotReadError from None


def _reason(said: object) -> str | None:
    coding = _section(_section(said).get("reason"))
    code = coding.get("code") if coding.get("system") == OVERRIDE_SYSTEM else None
    return code if isinstance(code, str) and code in _OFFERED else None


def _section(said: object) -> Mapping[str, object]:
    """An object; an empty one where there is none."""
    if said is None:
        return {}
    if not isinstance(said, dict):
        raise NotReadError
    return said


def _instant(said: object) -> datetime:
    try:
        found = datetime.fromisoformat(said if isinstance(said, str) else "")
        if found.tzinfo is None:
            raise NotReadError
        return found.astimezone(UTC).replace(microsecond=0)
    except (ValueError, OverflowError):
        raise NotReadError from None
