"""Reads settings seen into leaves, from a file or from single entries.

Judges one entry at a time. Never reads an order.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from orderlint.fields import FieldTable, field_table
from orderlint.finding import Place
from orderlint.leaf_reader import LeafReading, read_leaf
from orderlint.order import Leaf, Order
from orderlint.order_reader import read_order
from orderlint.readback.checklist import ADDITIVE, ADDITIVE_NAME
from orderlint.reading.node import Scalar

if TYPE_CHECKING:
    from orderlint.reading import Document

NOTHING = frozenset({"none", "not set", "nothing", "not there"})
"""The words for what is not there or not set; an empty entry is none of them."""

SCHEMA = "settings-seen"


def seen_table() -> FieldTable:
    """The fields of settings seen."""
    return field_table(SCHEMA)


def read_seen(document: Document) -> Order:
    """The settings in a file, each leaf judged. Never raises for what is written in it."""
    return read_order(document, seen_table())


def nothing_seen(file: str) -> Order:
    """Settings of which none has been entered yet; `file` is the name that their places carry."""
    leaves = {path: Leaf(path) for path in seen_table().fields}
    return Order(file, leaves, (), {"": Place(file, 1, 1)})


def is_nothing(text: str) -> bool:
    """Whether an entry says that there is nothing there."""
    return " ".join(text.split()).casefold() in NOTHING


def judge_entry(path: str, text: str, place: Place) -> LeafReading:
    """One entry, not an empty one, as the value of the setting at `path`."""
    entry = text.strip()
    return read_leaf(seen_table().fields[path], Scalar(entry, entry, "text", place))


def with_entry(seen: Order, path: str, judged: Leaf | None) -> Order:
    """The settings with one more entered in place of what was there; None says nothing is there.

    No additive is a value of its own: the word `none`, in place of a name and a concentration.
    """
    leaves = {**seen.leaves, path: judged or Leaf(path)}
    below = f"{ADDITIVE}."
    if judged is None and path in {ADDITIVE, ADDITIVE_NAME}:
        leaves |= {inside: Leaf(inside) for inside in leaves if inside.startswith(below)}
        leaves[ADDITIVE] = judge_entry(ADDITIVE, "none", seen.places[""]).leaf
    elif judged is not None and path.startswith(below):
        leaves[ADDITIVE] = Leaf(ADDITIVE)
    faults = tuple(f for f in seen.faults if path != f.path and path not in f.spoils)
    return replace(seen, leaves=leaves, faults=faults)
