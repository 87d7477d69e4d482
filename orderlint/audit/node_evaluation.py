"""Evaluates tests and atoms of a condition graph in many rows, as columns.

A test by the answer for the class of each row, an atom by polars. Never what is joined of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from orderlint.audit import column_logic as logic
from orderlint.audit.column_logic import Truth
from orderlint.audit.condition_graph import read_by, units_read
from orderlint.audit.policy_rows import FALSE, TRUE, UNKNOWN
from orderlint.language import to_polars

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.audit.condition_graph import Node
    from orderlint.audit.policy_rows import PolicyRows

_BITS = 8


class _Bits(NamedTuple):
    """Which bit of a word says where a test is true, and which where it is false; 0 where it is
    false wherever it is not true.
    """

    node: Node
    true: int
    false: int


def evaluate_tests(rows: PolicyRows, tests: Iterable[Node]) -> dict[Node, Truth]:
    """The outcome of each test in each row.

    The answers to several tests of one path are the bits of a word, so that a row is looked up
    once for all of them.
    """
    by_path: dict[str, list[Node]] = {}
    for node in tests:
        by_path.setdefault(node.path, []).append(node)
    words: list[pl.Series] = []
    asked: list[tuple[_Bits, str]] = []
    for path, nodes in by_path.items():
        for bits, of_class in _words(rows, path, nodes):
            name = f"word {len(words)}"
            words.append(rows.rows.columns[path].spread(of_class).alias(name))
            asked.extend((each, name) for each in bits)
    if not asked:
        return {}
    found = pl.DataFrame(words).select(
        (pl.col(name) & bit != 0).alias(f"{n} {bit}")
        for n, (bits, name) in enumerate(asked)
        for bit in (bits.true, bits.false)
        if bit
    )
    outcomes = {}
    for n, (test, _) in enumerate(asked):
        true = found[f"{n} {test.true}"]
        outcomes[test.node] = Truth(true, found[f"{n} {test.false}"] if test.false else ~true)
    return outcomes


def _words(
    rows: PolicyRows, path: str, nodes: Sequence[Node]
) -> Iterator[tuple[list[_Bits], pl.Series]]:
    """Words of the tests of one path, by class, and the bits of each."""
    bits: list[_Bits] = []
    word, used = 0, 0
    size = len(rows.rows.classes[path].readings)
    for node in nodes:
        is_ever_unknown = UNKNOWN in rows.different_answers(node)
        if used + 1 + is_ever_unknown > _BITS:
            yield bits, _by_class(word, size)
            bits, word, used = [], 0, 0
        each = _Bits(node, 1 << used, 2 << used if is_ever_unknown else 0)
        of_answer = bytes.maketrans(
            bytes((FALSE, TRUE, UNKNOWN)), bytes((each.false, each.true, 0))
        )
        word |= int.from_bytes(rows.answers(node).translate(of_answer))
        bits.append(each)
        used += 1 + is_ever_unknown
    yield bits, _by_class(word, size)


def _by_class(word: int, size: int) -> pl.Series:
    """A word of bits for each class, from one number that holds them one after another."""
    return pl.Series(list(word.to_bytes(size)), dtype=pl.UInt8)


def evaluate_atoms(rows: PolicyRows, atoms: Sequence[Node]) -> Mapping[Node, Truth]:
    """The outcome of each atom in each row."""
    if not atoms:
        return {}
    paths = dict.fromkeys(path for node in atoms for path in sorted(read_by(node.atom)))
    of_unit = {path for node in atoms for path in units_read(node.atom)}
    columns = {
        name: series for path in paths for name, series in rows.columns(path, unit=path in of_unit)
    }
    found = pl.DataFrame(columns).select(
        to_polars.expression(node.tree).alias(f"{n}") for n, node in enumerate(atoms)
    )
    return {node: logic.truth_of(found[f"{n}"]) for n, node in enumerate(atoms)}
