"""Rows of a table for audits in a database, and what each rule comes to in them by `evaluate`."""

from __future__ import annotations

import random
from collections import Counter
from functools import cache
from typing import TYPE_CHECKING

from rule_examples import examples

from orderlint.fields import CHECKED_AT
from orderlint.language.evaluate import evaluate
from orderlint.order import Leaf, State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.rulebook.rule import context_of
from orderlint.rulebook.standing_orders import filled
from orderlint.tables.row_document import document_of, refusal_of
from orderlint.tables.table_map import HEAD_PATHS
from orderlint.utc_offset_check import with_clock_change

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from orderlint.order import Order
    from orderlint.rulebook.rule import OrderRule, Rulebook

    Texts = Mapping[str, str]

NASTY = (
    *("", " ", "\t", "5\u00a0mmHg", "it's", 'say "x"', "back\\slash", "a\nb", "100%"),
    *("\u202e5", "ü"),
)
TIMES = ("2026-03-28T08:00:00+01:00", "2026-10-24T20:00:00+02:00", "2026-10-25T20:00:00+01:00")
ZONES = ("Europe/Zurich", "Atlantic/Reykjavik", "no such zone")


@cache
def pool() -> Mapping[str, tuple[str, ...]]:
    """The texts by path of all examples on one order, and some that no one should write."""
    found: dict[str, dict[str, None]] = {}
    for rule in load("all").order_rules:
        for example in examples(rule.id):
            for path, leaf in example.order.leaves.items():
                if leaf.place is not None and leaf.text and path not in HEAD_PATHS:
                    found.setdefault(path, {})[leaf.text] = None
    texts = {path: (*every, *NASTY) for path, every in found.items()}
    texts |= {path: (*texts.get(path, ()), *TIMES) for path in ("written", "starts", "review_by")}
    return texts | {"zone": (*ZONES, *NASTY)}


def drawn_rows(count: int, seed: int, paths: Iterable[str] = ()) -> list[Texts]:
    """Rows of texts; of an example with other texts here and there, or of any texts."""
    draw = random.Random(seed)
    every = sorted(paths) or sorted(pool())
    whole = {path: draw.choice(pool()[path][:6]) for path in every}
    rows = []
    for _ in range(count):
        share = draw.choice((0.05, 0.3, 0.9))
        row = dict(whole) if draw.random() < 0.7 else {}
        for path in every:
            if draw.random() < share:
                row[path] = draw.choice(pool()[path])
            elif draw.random() < share / 2:
                row.pop(path, None)
        rows.append(row)
    return rows


def read_row(row: Texts) -> Order | None:
    """The order of a row, None where `verify` refuses it."""
    texts = {path: text for path, text in row.items() if text}
    sections = [at for at in texts for path in texts if path.startswith(f"{at}.")]
    if sections or refusal_of(texts):
        return None
    return read_order(read(document_of(texts), "row", "order", json=True))


def meaning(rows: Iterable[Texts], rulebook: Rulebook) -> dict[str, Counter[str]]:
    """In how many rows each rule comes to what, one order at a time."""
    found = {rule.id: Counter() for rule in rulebook.order_rules}
    faults = {r.id for r in rulebook.rules.values() if r.found_by in {"units", "schema", "reading"}}
    found |= {rule: Counter() for rule in faults}
    for row in rows:
        order = read_row(row)
        if order is None:
            continue
        leaves = leaves_as_checked(order, rulebook)
        for rule in rulebook.order_rules:
            found[rule.id][outcome(rule, leaves)] += 1
        met = {fault.rule for fault in order.faults}
        for rule in faults:
            found[rule]["broken" if rule in met else "kept"] += 1
    return found


def leaves_as_checked(order: Order, rulebook: Rulebook) -> Mapping[str, Leaf]:
    """What the conditions read of an order as of when it was written."""
    order = filled(order, rulebook.standing_orders)
    at = order.leaves["written"].value
    state = State.ABSENT if at is None else State.KNOWN
    return {**with_clock_change(order.leaves), CHECKED_AT: Leaf(CHECKED_AT, state, at)}


def outcome(rule: OrderRule, leaves: Mapping[str, Leaf]) -> str:
    """Broken counts before unchecked, that before kept, and that before not asked."""
    found = set()
    for instance in rule.instances:
        sound = evaluate(instance.condition, leaves)
        context = context_of(rule, instance)
        if sound is not True:
            found.add("broken" if sound is False else "unchecked")
        elif context is not None and evaluate(context, leaves) is False:
            found.add("not_asked")
        else:
            found.add("kept")
    ranked = ("broken", "unchecked", "kept", "not_asked")
    return next((each for each in ranked if each in found), "not_asked")
