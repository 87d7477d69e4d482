"""What the conditions of a rulebook come to in many rows.

Tests of one setting are answered by `evaluate` once for each class, comparisons of several by
polars, row by row; all else joins masks. Never a rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from orderlint.audit import column_logic as logic
from orderlint.audit.column_logic import KNOWN_FALSE, KNOWN_TRUE, Mask, Truth
from orderlint.audit.condition_graph import Node, read_by_atom, units_read
from orderlint.audit.policy_rows import FALSE, TRUE, UNKNOWN, PolicyRows
from orderlint.language import to_polars
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Compare, Names, Same, paths_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence


_BITS = 8


class Outcomes:
    """The outcomes of conditions in some rows, under one policy.

    `nodes` are the conditions that are asked for; what varies in them from row to row is spread
    over the rows in one pass.
    """

    def __init__(self, rows: PolicyRows, nodes: Iterable[Node]) -> None:
        self.rows = rows
        self._constants: dict[Node, Truth | None] = {}
        self._missing: dict[Node, Mapping[str, Mask]] = {}
        varying = self._varying(nodes)
        tests = [node for node in varying if node.kind == "test"]
        atoms = [node for node in varying if node.kind == "atom"]
        self._found = {**_tests(rows, tests), **_atoms(rows, atoms)}

    def of(self, node: Node) -> Truth:
        """Where a condition is true, and where it is false."""
        found = self._found.get(node) or self._constant(node)
        if found is None:
            found = self._found[node] = _joined(node, [self.of(part) for part in node.parts])
        return found

    def missing(self, node: Node) -> Mapping[str, Mask]:
        """By leaf, where a condition is unknown for the lack of it, as `evaluate.missing` says."""
        if node not in self._missing:
            unknown = logic.opposite(self.of(node).known)
            lacking = {path: logic.both(unknown, mask) for path, mask in self._lacking(node)}
            self._missing[node] = {p: mask for p, mask in lacking.items() if mask is not False}
        return self._missing[node]

    def _lacking(self, node: Node) -> Iterable[tuple[str, Mask]]:
        """Where a leaf is lacking, as far as the node is unknown there."""
        if node.parts:
            found: dict[str, Mask] = {}
            for part in node.parts:
                for path, mask in self.missing(part).items():
                    found[path] = logic.either(found.get(path, False), mask)
            return found.items()
        if node.kind == "constant":
            return ()
        if node.kind == "test" or isinstance(node.tree, Names):
            return ((path, True) for path in (node.path or paths_of(node.atom)[0],))
        return self._lacking_in(node)

    def _lacking_in(self, node: Node) -> Iterable[tuple[str, Mask]]:
        """Of an atom that reads several leaves: those without a value or, if all have one, those
        whose units are of different kinds.
        """
        read = dict.fromkeys(paths_of(node.atom))
        found = {path: logic.opposite(self.rows.known(path)) for path in read}
        one_kind = node.tree.one_kind if isinstance(node.tree, Compare) else None
        if one_kind is not None:
            all_known = logic.all_of(self.rows.known(path) for path in read)
            for path in one_kind.paths:
                found[path] = logic.either(found.get(path, False), all_known)
        return found.items()

    def _varying(self, nodes: Iterable[Node]) -> list[Node]:
        """The nodes under some others whose outcomes are not the same in each row."""
        seen: dict[Node, None] = {}
        left = [*nodes]
        while left:
            node = left.pop()
            if node not in seen and self._constant(node) is None:
                seen[node] = None
                left.extend(node.parts)
        return [*seen]

    def _constant(self, node: Node) -> Truth | None:
        """The outcome of a node if it is the same in each row."""
        if node not in self._constants:
            self._constants[node] = self._constant_of(node)
        return self._constants[node]

    def _constant_of(self, node: Node) -> Truth | None:
        if node.kind == "constant":
            return logic.constant(evaluate(node.tree, {}))
        if node.kind == "test":
            different = self.rows.different_answers(node)
            return _OF_ANSWER[different.pop()] if len(different) == 1 else None
        if node.kind == "atom":
            return logic.UNKNOWN if self._lacks_a_value(node) else None
        parts = [self._constant(part) for part in node.parts]
        decisive = {"and": KNOWN_FALSE, "or": KNOWN_TRUE}.get(node.kind)
        if decisive in parts:
            return decisive
        constants = [part for part in parts if part is not None]
        return _joined(node, constants) if len(constants) == len(parts) else None

    def _lacks_a_value(self, node: Node) -> bool:
        """Whether a leaf that an atom reads has a value in no row, so that it is unknown in all."""
        if not isinstance(node.tree, Compare | Same):
            return False
        return any(self.rows.known(path) is False for path in paths_of(node.tree))


_OF_ANSWER = {TRUE: KNOWN_TRUE, FALSE: KNOWN_FALSE, UNKNOWN: logic.UNKNOWN}


def _joined(node: Node, parts: list[Truth]) -> Truth:
    if node.kind == "not":
        return Truth(parts[0].false, parts[0].true)
    true, false = [part.true for part in parts], [part.false for part in parts]
    if node.kind == "and":
        return Truth(logic.all_of(true), logic.any_of(false))
    return Truth(logic.any_of(true), logic.all_of(false))


class _Bits(NamedTuple):
    """Which bit of a word says where a test is true, and which where it is false; 0 where it is
    false wherever it is not true.
    """

    node: Node
    true: int
    false: int


def _tests(rows: PolicyRows, tests: Iterable[Node]) -> dict[Node, Truth]:
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


def _atoms(rows: PolicyRows, atoms: Sequence[Node]) -> Mapping[Node, Truth]:
    """The outcome of each atom in each row."""
    if not atoms:
        return {}
    paths = dict.fromkeys(path for node in atoms for path in sorted(read_by_atom(node.atom)))
    of_unit = {path for node in atoms for path in units_read(node.atom)}
    columns = {
        name: series for path in paths for name, series in rows.columns(path, unit=path in of_unit)
    }
    found = pl.DataFrame(columns).select(
        to_polars.expression(node.tree).alias(f"{n}") for n, node in enumerate(atoms)
    )
    return {node: logic.truth_of(found[f"{n}"]) for n, node in enumerate(atoms)}
