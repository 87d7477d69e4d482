"""Orders by path from which rows are made: the examples, judged orders, drawn ones, rules' own."""

from __future__ import annotations

import functools
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from oracle.draw import draw
from rule_examples import examples

from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.rulebook.examples import NOW
from orderlint.rulebook.load import load

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from rule_examples import RuleExample

TOP = Path(__file__).parent.parent.parent
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
CHECKED = "checked"
"""A column with an instant at which the row can be judged instead of at its signing."""
Row = dict[str, str | None]
"""The cells of one row by path or other column; None is NULL."""


def flat(document: Mapping[str, object], above: str = "") -> Row:
    """Sections → paths, without the head of the document."""
    cells: Row = {}
    for key, value in document.items():
        path = f"{above}{key}"
        if isinstance(value, dict):
            cells |= flat(value, f"{path}.")
        elif path not in {"document", "format"} and not isinstance(value, list):
            cells[path] = None if value is None else _text(value)
    return cells


def _text(value: object) -> str:
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


_CLEAN = TOP / "examples" / "clean.yaml"


@functools.cache
def whole() -> tuple[Row, ...]:
    """Orders that somebody wrote, as rows: the first is clean."""
    others = [*TOP.glob("examples/*.yaml"), *TOP.glob("tests/judged/*/*.yaml")]
    files = [_CLEAN, *sorted(others)]
    return tuple(row for file in files for row in _written(file))


def _written(file: Path) -> Iterator[Row]:
    """The texts of the leaves of an order as they stand in its file."""
    try:
        order = read_order(read(file.read_bytes(), file.name, "order"))
    except Refused:
        return
    leaves = order.leaves.items()
    yield {path: leaf.text for path, leaf in leaves if leaf.place and path not in HEAD}


HEAD = ("document", "format", "revision")
"""Leaves that few rows have: any text is a fault in `revision`."""


@functools.cache
def clean() -> Row:
    return next(_written(_CLEAN))


def drawn(seed: int) -> Row:
    return flat(draw(seed))


class OfRule(NamedTuple):
    """An example of a rule on one order, under the built-in policy: its cells."""

    rule: str
    outcome: str
    cells: Row


@functools.cache
def of_rules() -> tuple[OfRule, ...]:
    rules = (name for name, rule in load("order").rules.items() if rule.found_by != "draft")
    found = (example for rule in rules for example in examples(rule))
    return tuple(
        OfRule(each.rule, each.outcome, _cells(each))
        for each in found
        if not (each.values or each.policy)
    )


def _cells(example: RuleExample) -> Row:
    """The texts of an example, and the instant at which it is to be checked."""
    table, leaves = field_table(), example.order.leaves.items()
    cells: Row = {path: leaf.text for path, leaf in leaves if leaf.place and path not in HEAD[:2]}
    written = example.written.items()
    cells |= {path: text for path, text in written if text and path in table.section_names}
    return cells if example.at == NOW else {**cells, CHECKED: as_text(example.at)}


def as_text(at: int) -> str:
    """An instant in milliseconds since 1970 as ISO 8601."""
    return (EPOCH + timedelta(milliseconds=at)).isoformat(timespec="milliseconds")


def laid_over(below: Row, above: Row) -> Row:
    """The cells of one row, and below them those of another that can stand beside them."""
    return {path: text for path, text in below.items() if not clashes(path, above)} | above


def clashes(path: str, row: Row) -> bool:
    """Whether a text stands where a row has a section, or a section where it has a text."""
    given = [other for other, text in row.items() if text]
    return any(other.startswith(f"{path}.") or path.startswith(f"{other}.") for other in given)
