"""Verdicts a second in one process, beside validation of the same order by general validators.

The peers validate shape, which is the first and smallest part of a verdict.
"""

from __future__ import annotations

import importlib.util
import json
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml
from benchmarks.page import Comparison, Section, figure, with_spread
from benchmarks.timing import calls, in_turn
from core_yaml import CoreLoader, load

from orderlint import verification
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.load import load as load_rulebook

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from benchmarks.timing import Series

    from orderlint.verification import Verified

ROOT = Path(__file__).resolve().parents[2]
ORDERS = {
    "clean": "clean.yaml",
    "one finding": "drain-above-treat-above.yaml",
    "minimal": "minimal.yaml",
}
AT = 1_772_487_000_000
"""Between `starts` and `review_by` of the orders: 2026-03-02T15:30:00-06:00."""
OURS = "orderlint"
PEERS = {"jsonschema": "jsonschema", "jsonschema-rs": "jsonschema_rs"}
"""The validators by the name of their distribution, with the module to import."""


class _FastLoader(yaml.CSafeLoader):
    """What a caller of the peers would read YAML with: libyaml, under the core schema."""

    yaml_implicit_resolvers = CoreLoader.yaml_implicit_resolvers


def validators() -> dict[str, Callable[[Any], object]]:
    """Each peer that is installed, as a function that finds all that is wrong with a document."""
    schema = json.loads((ROOT / "schemas/order.schema.json").read_text(encoding="utf-8"))
    found: dict[str, Callable[[Any], object]] = {}
    for name, module in PEERS.items():
        if importlib.util.find_spec(module):
            peer = importlib.import_module(module).Draft202012Validator(schema)
            found[name] = partial(_errors, peer)
    return found


def _errors(peer: Any, document: Any) -> list[object]:
    return list(peer.iter_errors(document))


def verify(data: bytes, name: str) -> Verified:
    """From the bytes of an order to its verdict, as a service would, the rulebook being loaded."""
    return verification.verify_order(
        read_order(read(data, name, "order")), AT, load_rulebook("order")
    )


def forms(file: str) -> tuple[bytes, bytes, Any]:
    """An example as YAML, as JSON, and as the data that a peer validates."""
    as_yaml = (ROOT / "examples" / file).read_bytes()
    document = load(as_yaml.decode())
    return as_yaml, json.dumps(document, indent=1).encode(), document


def subjects_of(file: str) -> dict[str, dict[str, Callable[[], object]]]:
    """By where one begins: what orderlint and each peer are to do."""
    as_yaml, as_json, document = forms(file)
    order, rulebook = read_order(read(as_yaml, file, "order")), load_rulebook("order")

    def from_json(peer: Callable[[Any], object]) -> object:
        return peer(json.loads(as_json))

    def from_yaml(peer: Callable[[Any], object]) -> object:
        return peer(yaml.load(as_yaml, _FastLoader))

    def from_memory(peer: Callable[[Any], object]) -> object:
        return peer(document)

    whole = partial(verification.verify_order, order, AT, rulebook)
    lines = {
        "an order read": (whole, from_memory),
        "JSON bytes": (partial(verify, as_json, "order.json"), from_json),
        "YAML bytes": (partial(verify, as_yaml, file), from_yaml),
    }
    if judge := getattr(verification, "judge_order", None):  # not every version has it
        lines["an order read, without words"] = (partial(judge, order, AT, rulebook), from_memory)
    return {
        begins: {OURS: ours} | {name: partial(call, peer) for name, peer in validators().items()}
        for begins, (ours, call) in lines.items()
    }


def verdicts(rounds: int, seconds: float = 0.05) -> Section:
    """All orders, from each form; a batch of calls takes about so many seconds."""
    rows, compared = [], []
    for order, file in ORDERS.items():
        for begins, functions in subjects_of(file).items():
            subjects = {name: calls(function, seconds) for name, function in functions.items()}
            series = in_turn(subjects, rounds)
            rows.append((f"{order}, from {begins}", *_cells(series)))
            compared += _comparisons(f"a verdict on the {order} order, from {begins}", series)
    head = ["order", "verdicts/s by the clock", "verdicts/s of the processor"]
    for name in PEERS:
        head += [f"{name}, validations/s", "verdicts per validation"]
    words = (
        "One process, rulebook and schema loaded: how many in a second by the clock, and in one of "
        f"the processor (medians, and between which half of {rounds} batches lay). The peers "
        "validate the same order by its schema, which is the shape only, from the same bytes "
        "(`json.loads`; libyaml) or from the data in memory; theirs are seconds of the processor."
    )
    absent = tuple(f"{name}, which is not installed" for name in PEERS if name not in validators())
    return Section("Verdicts a second", words, tuple(head), rows, tuple(compared), absent)


def _comparisons(what: str, series: dict[str, Series]) -> Iterator[Comparison]:
    for name, peer in series.items():
        if name != OURS:
            factor = series[OURS].processor / peer.processor
            yield Comparison(what, "processor time", f"{name} (shape only)", factor)


def _rate(series: Series, of: str = "processor") -> str:
    low, high = series.middle_half(of)
    return with_spread(1 / getattr(series, of), (1 / high, 1 / low))


def _cells(series: dict[str, Series]) -> Iterator[str]:
    ours = series[OURS]
    yield _rate(ours, "wall")
    yield _rate(ours)
    for name in PEERS:
        if name in series:
            yield _rate(series[name])
            yield figure(series[name].processor / ours.processor)
        else:
            yield from ["not measured"] * 2
