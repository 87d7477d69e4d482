"""Reads the request of a hook, and says which hooks are answered, by CDS Hooks 2.0.

Finds the orders in a request and cuts out their text. Never what is written in an order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Refused
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Scalar, Section
from orderlint.reading.unicode_checks import decode_text
from orderlint.service.plain_json import end_of_value, plain_json

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orderlint.finding import Place
    from orderlint.reading.node import Node

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


def discovery() -> dict[str, object]:
    """What services there are. None asks that data be fetched for it beforehand."""
    services = [
        {"hook": hook.name, "title": hook.title, "description": hook.description, "id": hook.name}
        for hook in HOOKS.values()
    ]
    return {"services": services}


class NotHookError(ValueError):
    """A body that is no request of the hook."""


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
    """The orders in a request. Raises NotHookError where it is no request of this hook."""
    try:
        orders = _checked(plain_json(body), hook)
    except ValueError:
        raise NotHookError from None
    try:
        text = decode_text(body, REQUEST)
        context = _context(read_json(text, REQUEST))
    except Refused as reason:
        return UnreadOrders(orders, body.decode(), reason)
    bundle, patient = context.get("draftOrders"), context.get("patientId")
    # INVARIANT: the same text has just been seen to have both.
    assert isinstance(bundle, Section)
    assert isinstance(patient, Scalar)
    return DraftOrders(bundle, _cut(text, bundle.place), patient.text)


def _checked(said: object, hook: Hook) -> object:
    """The orders of a request that has all that its hook must have. Raises NotHookError."""
    if not isinstance(said, dict) or said.get("hook") != hook.name:
        raise NotHookError
    context = said.get("context")
    if not isinstance(context, dict):
        raise NotHookError
    texts = (said.get("hookInstance"), *(context.get(name) for name in _TEXTS))
    if not all(isinstance(text, str) and text for text in texts):
        raise NotHookError
    for name in hook.lists:
        items = context.get(name)
        if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
            raise NotHookError
    orders = context.get("draftOrders")
    if not isinstance(orders, dict) or orders.get("resourceType") != "Bundle":
        raise NotHookError
    return orders


def _context(root: Node) -> Section:
    context = root.get("context") if isinstance(root, Section) else None
    assert isinstance(context, Section)  # INVARIANT: the same text has just been seen to have it
    return context


def _cut(text: str, place: Place) -> str:
    """The text of the object that begins at a place."""
    before = text.split("\n", place.line - 1)[: place.line - 1]
    start = sum(len(line) + 1 for line in before) + place.column - 1
    return text[start : end_of_value(text, start)]
