"""Saves a read-back that was stopped as text, and restores it.

Names, order and form of the parts. Never opens a file; of the order it holds only a digest.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from orderlint.finding import Refused
from orderlint.readback.dialogue import (
    SETTINGS,
    Entered,
    Question,
    first_question,
    record,
    validate,
)
from orderlint.reading.node import Scalar, Section
from orderlint.units import parse_instant

if TYPE_CHECKING:
    from orderlint.reading import Document
    from orderlint.reading.node import KeyValue, Node

KEPT = "read-back-kept"
"""What `document:` says in such a file."""


def saved_text(entered: Entered, digest: str) -> str:
    """The file's text, JSON. `digest` is that of the order's bytes, SHA-256 in hexadecimal."""
    parts = {
        "document": KEPT,
        "format": 1,
        "order_sha256": digest,
        "seen_at": entered.seen_at,
        "first": dict(entered.first),
        "again": dict(entered.again),
    }
    return json.dumps(parts, ensure_ascii=False, indent=2) + "\n"


def entered_from(document: Document, digest: str) -> Entered:
    """What was entered before, each entry judged anew.

    Raises Refused if the file belongs to another order than the one with this `digest`, or is not
    as `saved_text` writes it.
    """
    root = document.root
    if _required_text(root, "order_sha256") != digest:
        place = _required_node(root, "order_sha256").place
        raise Refused("This was entered beside another order, or before the order changed.", place)
    seen_at = _required_text(root, "seen_at")
    if parse_instant(seen_at) is None:
        raise Refused(_NOT_KEPT, _required_node(root, "seen_at").place)
    entered = Entered(seen_at, {}, {})
    for entry in _required_entries(root, "first"):
        asked = first_question(entered)
        if asked is None or entry.key.text != asked.path:
            raise Refused(_NOT_KEPT, entry.key.place)
        entered = _with_saved(entered, asked, entry)
    for entry in _required_entries(root, "again"):
        if entry.key.text not in SETTINGS or first_question(entered) is not None:
            raise Refused(_NOT_KEPT, entry.key.place)
        entered = _with_saved(entered, Question(entry.key.text, again=True), entry)
    return entered


_NOT_KEPT = "This is not as a read-back is kept; begin the read-back anew."


def _with_saved(entered: Entered, asked: Question, entry: KeyValue) -> Entered:
    value = entry.value
    sound = isinstance(value, Scalar) and value.text.strip()
    if not isinstance(value, Scalar) or not sound or validate(entered, asked, value.text):
        raise Refused(_NOT_KEPT, value.place)
    return record(entered, asked, value.text)


def _required_node(root: Section, key: str) -> Node:
    node = root.get(key)
    if node is None:
        raise Refused(_NOT_KEPT, root.place)
    return node


def _required_text(root: Section, key: str) -> str:
    node = _required_node(root, key)
    if not isinstance(node, Scalar):
        raise Refused(_NOT_KEPT, node.place)
    return node.text


def _required_entries(root: Section, key: str) -> tuple[KeyValue, ...]:
    node = _required_node(root, key)
    if not isinstance(node, Section):
        raise Refused(_NOT_KEPT, node.place)
    return node.entries
