"""Saves a read-back that was stopped as text, and restores it.

Names, order and form of the parts. Never opens a file; of the order it holds only name and digest.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, NamedTuple

from orderlint.finding import Refused
from orderlint.readback.dialogue import (
    QUESTIONS,
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
    from collections.abc import Mapping

    from orderlint.reading import Document
    from orderlint.reading.node import KeyValue, Node

KEPT = "read-back-kept"
"""What `document:` says in such a file."""


class Saved(NamedTuple):
    """A read-back that was stopped: what was entered, and beside which order.

    `order` is the order's file as it was named, `digest` that of its bytes.
    """

    order: str
    digest: str
    entered: Entered


def saved_text(saved: Saved) -> str:
    """The file's text, JSON."""
    entered = saved.entered
    parts = {
        "document": KEPT,
        "format": 2,
        "order": saved.order,
        "order_sha256": saved.digest,
        "seen_at": entered.seen_at,
        "first": _with_times(entered, entered.first, again=False),
        "again": _with_times(entered, entered.again, again=True),
    }
    return json.dumps(parts, ensure_ascii=False, indent=2) + "\n"


def _with_times(
    entered: Entered, entries: Mapping[str, str], *, again: bool
) -> dict[str, dict[str, str]]:
    times = entered.times
    return {p: {"entered": text, "at": times[Question(p, again)]} for p, text in entries.items()}


def saved_from(document: Document) -> Saved:
    """What was saved, each entry judged anew. Raises Refused if it is not as `saved_text` writes.

    INVARIANT: who checks is asked again before any of it counts.
    """
    root = document.root
    entered = Entered(_required_instant(root, "seen_at"), {}, {})
    for entry in _required_entries(root, "first"):
        if entry.key.text not in QUESTIONS:
            raise Refused(_NOT_KEPT, entry.key.place)
        entered = _with_saved(entered, Question(entry.key.text, again=False), entry)
    for entry in _required_entries(root, "again"):
        if entry.key.text not in SETTINGS or first_question(entered) is not None:
            raise Refused(_NOT_KEPT, entry.key.place)
        entered = _with_saved(entered, Question(entry.key.text, again=True), entry)
    return Saved(_required_text(root, "order"), _required_text(root, "order_sha256"), entered)


_NOT_KEPT = "This is not as a read-back is kept; begin the read-back anew."


def _with_saved(entered: Entered, asked: Question, entry: KeyValue) -> Entered:
    value = entry.value
    if not isinstance(value, Section):
        raise Refused(_NOT_KEPT, value.place)
    text, at = _required_text(value, "entered"), _required_instant(value, "at")
    if not text.strip() or validate(entered, asked, text):
        raise Refused(_NOT_KEPT, _required_node(value, "entered").place)
    return record(entered, asked, text, at)


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


def _required_instant(root: Section, key: str) -> str:
    text = _required_text(root, key)
    if parse_instant(text) is None:
        raise Refused(_NOT_KEPT, _required_node(root, key).place)
    return text
