"""Words a leaf of an order that the solver found, by its path. Never more than one leaf."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.types import CHECKED_AT, Scope
from orderlint.quantity_words import format_instant, format_quantity

if TYPE_CHECKING:
    from orderlint.order import Leaf


def witness_words(leaf: Leaf) -> str:
    """A path and what stands there, as in `pause.upper 22 mmHg`."""
    name = "the time of checking" if leaf.path == CHECKED_AT else leaf.path
    if not leaf.given:
        return f"{name} not written"
    if not leaf.known:
        return f"{name} that cannot be read"
    flags = f" ({', '.join(sorted(leaf.flags))})" if leaf.flags else ""
    return f"{name} {_value(leaf)}{flags}"


def _value(leaf: Leaf) -> str:
    kind = Scope(field_table(), change=True).field(leaf.path, 0)[1].kind
    if kind == "quantity":
        return format_quantity(int(leaf.value or 0), leaf.unit or "")
    if kind == "instant":
        return format_instant(int(leaf.value or 0))
    return "written" if kind == "text" else str(leaf.value)
