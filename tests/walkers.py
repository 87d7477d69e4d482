"""The three walkers side by side on concrete orders: one order at a time, or a table of them."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING

import duckdb
import z3

from orderlint.fields import field_table
from orderlint.language.evaluate import evaluate
from orderlint.language.naming import names_one
from orderlint.language.to_sql import columns, row, sql
from orderlint.language.to_z3 import (
    choice_code,
    flag_of,
    given_of,
    has_words_of,
    known_of,
    named_of,
    solve,
    unit_of,
    value_of,
)
from orderlint.language.tree import Names, Written, atoms, paths_of
from orderlint.language.types import Scope
from orderlint.order import FLAGS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.language.tree import Tree
    from orderlint.order import Leaf

    Leaves = Mapping[str, Leaf]
    Truths = list[bool | None]

by_evaluate = evaluate


def by_solve(trees: Sequence[Tree], leaves: Leaves) -> Truths:
    """What z3 makes of the trees when every variable is given the order's value."""
    return Solved(trees).outcomes(leaves)


class Solved:
    """Trees translated once, to be tried on many orders: one term whose bits are the answers."""

    def __init__(self, trees: Sequence[Tree]) -> None:
        self.paths = sorted({p for tree in trees for atom in atoms(tree) for p in paths_of(atom)})
        self.flags, self.lists = flags_of(trees), lists_of(trees)
        pairs = [solve(tree) for tree in trees]
        bits = [bit for pair in pairs for bit in (pair.true, pair.false)]
        self.term = [z3.If(bit, z3.BitVecVal(1, 1), z3.BitVecVal(0, 1)) for bit in bits]
        self.count = len(bits)
        self.whole = z3.Concat(*self.term) if self.count > 1 else None

    def outcomes(self, leaves: Leaves) -> Truths:
        if not self.count:
            return []
        values = [
            pair for path in self.paths for pair in assign(leaves[path], self.flags, self.lists)
        ]
        number = z3.simplify(z3.substitute(self.whole, *values)).as_long()
        digits = f"{number:0{self.count}b}"
        return [truth(digits[n] == "1", digits[n + 1] == "1") for n in range(0, self.count, 2)]


def assign(
    leaf: Leaf, flags: frozenset[str], lists: frozenset[tuple[str, ...]]
) -> Iterator[tuple[z3.ExprRef, z3.ExprRef]]:
    """Each variable of a leaf with its value on one order; `flags` and `lists` are what rules read.

    A leaf that is not known gets values all the same: no condition may depend on them.
    """
    yield given_of(leaf.path), z3.BoolVal(leaf.given)
    yield known_of(leaf.path), z3.BoolVal(leaf.known)
    is_number = isinstance(leaf.value, int)
    code = z3.IntVal(leaf.value) if is_number else choice_code(str(leaf.value or ""))
    yield value_of(leaf.path), code
    yield unit_of(leaf.path), choice_code(leaf.unit or "")
    for flag in flags:
        yield flag_of(leaf.path, flag), z3.BoolVal(flag in leaf.flags)
    yield has_words_of(leaf.path), z3.BoolVal(leaf.has_words)
    for listed in lists:
        yield named_of(leaf.path, listed), z3.BoolVal(names_one(leaf.text, listed))


def truth(is_true: bool, is_false: bool) -> bool | None:
    assert not (is_true and is_false)
    return True if is_true else False if is_false else None


def flags_of(trees: Iterable[Tree]) -> frozenset[str]:
    found = {a.flag for tree in trees for a in atoms(tree) if isinstance(a, Written)}
    assert found <= FLAGS
    return frozenset(found)


def lists_of(trees: Iterable[Tree]) -> frozenset[tuple[str, ...]]:
    return frozenset(a.listed for tree in trees for a in atoms(tree) if isinstance(a, Names))


def by_sql(trees: Sequence[Tree], orders: Sequence[Leaves]) -> list[Truths]:
    """What DuckDB makes of the trees over a table with one row an order."""
    if not trees:
        return [[] for _ in orders]
    paths = sorted({p for tree in trees for atom in atoms(tree) for p in paths_of(atom)})
    flags, lists = flags_of(trees), lists_of(trees)
    scope = Scope(field_table(), change=True)
    fields = [replace(scope.field(path, 0)[1], path=path) for path in paths]
    definitions = ["n INTEGER", *(c for field in fields for c in columns(field, flags, lists))]
    rows = [
        [n, *(v for p in paths for v in row(leaves[p], flags, lists))]
        for n, leaves in enumerate(orders)
    ]
    database = _database()
    database.execute(f"CREATE OR REPLACE TABLE orders ({', '.join(definitions)})")
    marks = ", ".join("?" * len(definitions))
    database.executemany(f"INSERT INTO orders VALUES ({marks})", rows)
    selected = ", ".join(sql(tree) for tree in trees)
    found = database.execute(f"SELECT {selected} FROM orders ORDER BY n").fetchall()
    return [list(outcomes) for outcomes in found]


@functools.cache
def _database() -> duckdb.DuckDBPyConnection:
    """One for all the tables of a test process: to open one takes longer than to ask it."""
    return duckdb.connect(config={"threads": 1})
