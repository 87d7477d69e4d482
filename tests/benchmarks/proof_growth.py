"""Time to prove a set over the whole rulebook, as fields, options and rules grow.

Beside it the named peer, exhaustive enumeration with itertools.product, for as long as that ends.
All sets are made up around the clean example. Seconds of the processor, after imports.
"""

from __future__ import annotations

import itertools
import time
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from orderlint.fields import field_table
from orderlint.language.evaluate import evaluate
from orderlint.order import Leaf, State
from orderlint.order_reader import read_order
from orderlint.order_set.model import OrderSet, Slot, order_of
from orderlint.proof.counterexample import counterexample_of
from orderlint.proof.narrowing import narrowings_of
from orderlint.proof.prover import Prover, Result
from orderlint.proof.solver import search  # noqa: F401 - z3 is imported before the clock starts
from orderlint.proof.unused_options import choices_of
from orderlint.quantity_words import format_quantity
from orderlint.reading import read
from orderlint.rulebook.load import load
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
PATIENCE = 20.0
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


def made_up(fields: int, count: int, mixed: bool = True) -> OrderSet:
    """A set with that many fields of that many options, all else as in the example."""
    slots = {path: Slot(path, (leaf,), 0) for path, leaf in clean().items()}
    for number, path in enumerate(FIELDS[:fields]):
        is_mixed = mixed and slots[path].options[0].unit == "mmHg" and number % 2 == 0
        slots[path] = Slot(path, options(slots[path].options[0], count, is_mixed), count // 2)
    signed = ("id", "written", "starts", "review_by", "prescriber", "status", "revision")
    for path in signed:
        slots[path] = Slot(path, slots[path].options, 0, signed=True)
    return OrderSet("made-up", {}, slots, {}, ())


def measured(order_set: OrderSet, rules: list[OrderRule]) -> tuple[dict[str, float], Counter[str]]:
    """Seconds of each part, and how many rules came out how."""
    times, start = {}, time.process_time()
    prover = Prover(order_set, rules)
    proofs = [prover.decide(rule) for rule in rules]
    times["verdicts"] = time.process_time() - start
    broken = [(r, p) for r, p in zip(rules, proofs, strict=True) if p.result is Result.BROKEN]
    parts = {
        "nearest": lambda: [counterexample_of(prover, rule, proof) for rule, proof in broken],
        "narrowings": lambda: [narrowings_of(prover, rule, p.witness).found for rule, p in broken],
        "choices": lambda: choices_of(prover, rules),
    }
    for name, part in parts.items():
        start = time.process_time()
        part()
        times[name] = time.process_time() - start
    return times, Counter(proof.result.value for proof in proofs)


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


def line(name: str, times: dict[str, float], results: Counter[str], peer: str = "") -> None:
    shown = "  ".join(f"{part} {taken:6.2f} s" for part, taken in times.items())
    came = ", ".join(f"{number} {result}" for result, number in results.most_common())
    print(f"{name:28} {shown}  ({came}){peer}", flush=True)


def main() -> None:
    rules = list(load("all").order_rules)
    for fields, count in ((25, 100), (25, 500)):
        line(f"{fields} fields × {count}", *measured(made_up(fields, count), rules))
    for count in (10, 50, 200):
        line(f"10 fields × {count}", *measured(made_up(10, count), rules))
    for fields in (5, 15, 25):
        line(f"{fields} fields × 50", *measured(made_up(fields, 50), rules))
    for share in (4, 2, 1):
        some = rules[: len(rules) // share]
        line(f"25 fields × 50, {len(some)} rules", *measured(made_up(25, 50), some))
    for fields in (1, 2, 3, 4, 5):
        taken = enumerated(made_up(fields, 5), rules)
        peer = f"; enumeration {f'{taken:.2f} s' if taken else 'did not end'}"
        line(f"{fields} fields × 5", *measured(made_up(fields, 5), rules), peer)
        if taken is None:
            break


if __name__ == "__main__":
    main()
