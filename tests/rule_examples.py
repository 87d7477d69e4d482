"""The examples that every rule carries, as orders: read from the rulebook, run by many tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.language.types import CHECKED_AT
from orderlint.order import Leaf, State, nested, read_order
from orderlint.reading import Document
from orderlint.reading.node import Listing, Scalar, Section
from orderlint.rulebook.load import built_in, load
from orderlint.units import instant_ticks

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Order
    from orderlint.reading.node import Node
    from orderlint.rulebook.rule import Rule, Rulebook

OUTCOMES = ("breaks", "passes", "unknown")
NOW = 1_772_480_000_000
_TOP = Place("example", 1, 1)
HEAD = {
    "document": Scalar("order", "order", "text", _TOP),
    "format": Scalar("1", "1", "number", _TOP),
}
SAMPLE = "sample"
"""What an example writes for a leaf whose value does not matter: the schema's own example."""


@dataclass(frozen=True)
class Example:
    """One example of one rule: the order it describes, and what the rule must say of it."""

    rule: str
    outcome: str
    number: int
    order: Order
    site: Mapping[str, Node]
    at: int

    def __str__(self) -> str:
        return f"{self.rule}-{self.outcome}-{self.number}"

    def leaves(self) -> dict[str, Leaf]:
        return {**self.order.leaves, CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, self.at)}

    def rulebook(self) -> Rulebook:
        return load(self.site) if self.site else built_in()


def examples() -> Iterator[Example]:
    """Every example of every rule of the built-in rulebook."""
    for rule in built_in().rules.values():
        yield from _of_rule(rule)


def _of_rule(rule: Rule) -> Iterator[Example]:
    for entry in rule.examples.entries if rule.examples else ():
        assert entry.key.text in OUTCOMES, f"{rule.id} has examples that are {entry.key.text}"
        assert isinstance(entry.value, Listing)
        for number, item in enumerate(entry.value.items):
            assert isinstance(item, Section)
            yield _example(rule, entry.key.text, number, item)


def _example(rule: Rule, outcome: str, number: int, item: Section) -> Example:
    it = rule.instances[0].it if rule.instances else None
    at, site, leaves = NOW, {}, {}
    for entry in item.entries:
        key = entry.key.text
        if key == "at":
            at = instant_ticks(entry.value.text)
        elif key == "site":
            site = {e.key.text: e.value for e in entry.value.entries}
        else:
            path = it if key == "it" else key
            leaves.update(_written(path, entry.value))
    root = nested({**HEAD, **leaves}, Place("example", 1, 1))
    order = read_order(Document("example", "order", root))
    return Example(rule.id, outcome, number, order, site, at)


def _written(path: str, value: Scalar) -> dict[str, Scalar]:
    if value.text != SAMPLE:
        return {path: value}
    table = field_table()
    paths = [path] if path in table.fields else table.sections[path]
    return {p: _scalar(table.fields[p].example, value.place) for p in paths}


def _scalar(text: str, place: Place) -> Scalar:
    return Scalar(text, text, "text", place)
