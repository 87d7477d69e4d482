"""Order sets made up around the clean example, and every order of one tried by enumeration."""

from __future__ import annotations

import itertools
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.evaluate import evaluate
from orderlint.order import Leaf, State
from orderlint.order_reader import read_order
from orderlint.order_set.model import OrderSet, Slot, order_of
from orderlint.quantity_words import format_quantity
from orderlint.reading import read
from orderlint.units import TICKS

if TYPE_CHECKING:
    from orderlint.rulebook.rule import OrderRule

ROOT = Path(__file__).resolve().parents[2]
FIELDS = [
    "irrigation.rate",
    "drainage.hourly_max",
    "treat_above",
    "pause.upper",
    "drainage.height",
    "titration.max",
    "pause.lower",
    "notify.icp_above",
    "irrigation.bag",
    "monitoring.output_every",
    "drainage.bag",
    "irrigation.daily_max",
    "titration.step",
    "titration.every",
    "notify.icp_below",
    "notify.icp_for",
    "notify.no_output_after",
    "notify.net_in.above",
    "notify.net_in.within",
    "monitoring.icp_every",
    "monitoring.neuro_every",
    "monitoring.level_every",
    "monitoring.zero_every",
    "position.head_up",
    "irrigation.bag_change_every",
]
PATIENCE = 10.0
"""Seconds after which enumeration is given up."""


def clean() -> dict[str, Leaf]:
    path = ROOT / "examples" / "clean.yaml"
    return dict(read_order(read(path.read_bytes(), path.name, "order")).leaves)


def options(leaf: Leaf, count: int, is_mixed: bool) -> tuple[Leaf, ...]:
    """Values in even steps around that of the example; of a mixed list the second half in cmH2O."""
    field = field_table().fields[leaf.path]
    made = []
    for index in range(count):
        unit = "cmH2O" if is_mixed and index >= count // 2 else leaf.unit or ""
        tick = TICKS[field.dimension or ""][unit]
        value = (leaf.value or 0) // tick * tick + (index - count // 2) * (tick // 20)
        value = min(max(value, field.lowest), field.highest)
        made.append(Leaf(leaf.path, State.KNOWN, value, unit, format_quantity(value, unit)))
    return tuple(made)


def made_up(fields: int, count: int, *, mixed: bool = True) -> OrderSet:
    """A set with that many fields of that many options, all else as in the example."""
    slots = {path: Slot(path, (leaf,), 0) for path, leaf in clean().items()}
    for number, path in enumerate(FIELDS[:fields]):
        is_mixed = mixed and slots[path].options[0].unit == "mmHg" and number % 2 == 0
        slots[path] = Slot(path, options(slots[path].options[0], count, is_mixed), count // 2)
    signed = ("id", "written", "starts", "review_by", "prescriber", "status", "revision")
    for path in signed:
        slots[path] = Slot(path, slots[path].options, 0, signed=True)
    return OrderSet("made-up", {}, slots, {}, ())


def revised(fields: int, count: int, changed: int) -> tuple[OrderSet, OrderSet]:
    """A set, and one in which so many fields have all options one step higher."""
    before = made_up(fields, count, mixed=False)
    wider = made_up(fields, count + 2, mixed=False)
    slots = dict(before.slots)
    for path in FIELDS[: min(changed, fields)]:
        old = slots[path]
        wanted = (*old.options[1:], wider.slots[path].options[-1])
        slots[path] = replace(old, options=wanted, preset=(old.preset or 1) - 1)
    return before, replace(before, slots=slots)


def enumerated(order_set: OrderSet, rules: list[OrderRule]) -> float | None:
    """Seconds of trying every order, or None where that did not end in time."""
    start = time.process_time()
    trees = [instance.condition for rule in rules for instance in rule.instances]
    held = {"checked_at": Leaf("checked_at")}
    slots = order_set.slots
    lists = [slot.options for slot in slots.values()]
    for picked in itertools.product(*lists):
        leaves = order_of(order_set, {**dict(zip(slots, picked, strict=True)), **held}, {})
        for tree in trees:
            evaluate(tree, leaves)
        if time.process_time() - start > PATIENCE:
            return None
    return time.process_time() - start
