"""Order sets made from texts, the short way."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import TYPE_CHECKING

from orderlint.language.tree import atoms, paths_of
from orderlint.order_set.read import read_order_set
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.set_review import review_set

if TYPE_CHECKING:
    from orderlint.finding import Fault
    from orderlint.order_set.model import OrderSet, Slot
    from orderlint.rulebook.rule import Rulebook
    from orderlint.set_review import Reviewed

AT = 1_772_483_400_000  # 2026-03-02T14:30:00-06:00
EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
HEAD = """document: order-set
format: 1
title: an invented set
population: adult
version: 1
owner: an invented committee
approved: 2026-02-01
review_due: 2027-02-01
order:
"""


def whole(text: str, file: str = "set.yaml") -> OrderSet:
    """The order set of a whole file's text."""
    document = read(text.encode(), file, "order-set")
    return read_order_set(document, load("order-set").derived)


def order_set(entries: str) -> OrderSet:
    """The order set of some lines under `order:`."""
    return whole(HEAD + "".join(f"  {line}\n" for line in entries.splitlines()))


def slot(entries: str) -> Slot:
    """The slot of a set's first line."""
    made = order_set(entries)
    return next(iter(made.slots.values()))


def texts(slot: Slot) -> list[str]:
    return [leaf.text for leaf in slot.options]


def rules(faults: tuple[Fault, ...]) -> list[str]:
    return [fault.rule for fault in faults]


def example(name: str) -> OrderSet:
    return whole((EXAMPLES / name).read_text(encoding="utf-8"), name)


def review(data: bytes, file: str, at: int, rulebook: Rulebook | None = None) -> Reviewed:
    """The review of an order set's bytes."""
    book = rulebook or load("order-set")
    return review_set(read_order_set(read(data, file, "order-set"), book.derived), at, book)


def some_rules(count: int) -> Rulebook:
    """The rulebook for order sets with its first few conditions only, for what needs no more."""
    book = load("order-set")
    left_out = [rule.id for rule in book.order_rules if rule.instances][count:]
    return book._replace(rules={k: rule for k, rule in book.rules.items() if k not in left_out})


def reading(*paths: str, book: Rulebook | None = None) -> Rulebook:
    """A rulebook with only those of its conditions that read one of some settings."""
    book = book or load("order-set")
    others = {
        rule.id
        for rule in (*book.order_rules, *book.change_rules)
        if not any(
            path in paths
            for each in rule.instances
            for atom in atoms(each.condition)
            for path in paths_of(atom)
        )
    }
    return book._replace(rules={k: rule for k, rule in book.rules.items() if k not in others})


@functools.cache
def reviewed(name: str) -> Reviewed:
    """The review of an example, which several modules look at."""
    return review((EXAMPLES / name).read_bytes(), name, AT)
