"""Expands `from`, `to` and `step` of an entry into the values between, each as written.

Exact decimals, in the unit of the entry. Never a value that no step reaches.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.leaf_reader import read_leaf
from orderlint.quantity_words import format_decimal
from orderlint.reading.node import Node, Scalar, Section
from orderlint.reading.quantity_text import NumberText, split_quantity
from orderlint.schema_check import is_empty

if TYPE_CHECKING:
    from orderlint.field import Field
    from orderlint.finding import Fault
    from orderlint.order import Leaf

MOST_OPTIONS = 1_000
"""Most options of one leaf; nobody picks from a longer list."""


class EntryError(Exception):
    """An entry of an order set that cannot be read: `node` says where, `reason` why.

    `fault` is set where a leaf already has one.
    """

    def __init__(self, node: Node, reason: str, fault: Fault | None = None) -> None:
        super().__init__(reason)
        self.node = node
        self.reason = reason
        self.fault = fault


class SteppedValues(NamedTuple):
    """The values from one end to the other, both included, and the step in ticks."""

    values: tuple[Scalar, ...]
    step: int


class _End(NamedTuple):
    """`from`, `to` or `step` as read."""

    node: Scalar
    leaf: Leaf
    number: NumberText
    unit: str

    def count(self, places: int) -> int:
        """Return the number in units of the last of `places` decimals."""
        finer: int = 10 ** (places - self.number.decimals)
        count = int(self.number.digits) * finer
        return -count if self.number.negative else count


def read_steps(field: Field, section: Section) -> SteppedValues:
    """Read the values of an entry, or the bounds of a blank, in steps. Raises EntryError."""
    if field.kind != "quantity":
        bound = next(node for key in ("from", "to", "step") if (node := section.get(key)))
        raise EntryError(bound, "only a number with a unit is given from one end to the other")
    first, last, step = (_end(field, section, key) for key in ("from", "to", "step"))
    for end in (last, step):
        if end.leaf.unit != first.leaf.unit:
            reason = f"this is in {end.leaf.unit}, and from: is in {first.leaf.unit}"
            raise EntryError(end.node, reason)
    places = max(end.number.decimals for end in (first, last, step))
    size = step.count(places)
    if size <= 0:
        raise EntryError(step.node, "step: is more than nothing")
    counts = range(first.count(places), last.count(places) + 1, size)
    if not counts:
        raise EntryError(last.node, f"to: is below from:, {first.node.text.strip()}")
    if len(counts) > MOST_OPTIONS:
        reason = f"these are {len(counts):,} values, and {MOST_OPTIONS:,} are the most"
        raise EntryError(step.node, reason)
    if counts[-1] != last.count(places):
        reason = (
            f"the steps do not reach it: the last below it is {format_decimal(counts[-1], places)}"
        )
        raise EntryError(last.node, reason)
    between = [_value(first, count, places) for count in counts[1:-1]]
    ends = (last.node,) if len(counts) > 1 else ()
    ticks = step.leaf.value
    assert isinstance(ticks, int)  # a quantity that was read
    return SteppedValues((first.node, *between, *ends), ticks)


def _end(field: Field, section: Section, key: str) -> _End:
    node = section.get(key)
    if node is None:
        raise EntryError(section, f"{key}: is missing; from:, to: and step: stand together")
    if not isinstance(node, Scalar) or is_empty(node):
        raise EntryError(node, f"{key}: is a number with its unit")
    judged = read_leaf(field, node)
    split = split_quantity(node.text)
    if judged.fault or split is None or split.number is None:
        raise EntryError(node, "it does not read", judged.fault)
    return _End(node, judged.leaf, split.number, split.unit)


def _value(first: _End, count: int, places: int) -> Scalar:
    """Return a value between the ends, as a form would show it: in the unit of `from`."""
    text = f"{format_decimal(count, places)} {first.unit}"
    return Scalar(text, text, "text", first.node.place)
