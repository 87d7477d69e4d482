"""The walkers side by side on concrete orders: one order at a time, or a table of them."""

from __future__ import annotations

import functools
from collections import defaultdict
from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING

import duckdb
import polars as pl
import z3

from orderlint.fields import field_table
from orderlint.language import to_polars
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
    Tests = tuple[frozenset[str], frozenset[tuple[str, ...]]]

by_evaluate = evaluate


def by_solve(trees: Sequence[Tree], leaves: Leaves) -> Truths:
    """What z3 makes of the trees when every variable is given the order's value."""
    return Solved(trees).outcomes(leaves)


class Solved:
    """Trees translated once, to be tried on many orders: one term whose bits are the answers."""

    def __init__(self, trees: Sequence[Tree]) -> None:
        self.tests = tests_of(trees)
        pairs = [solve(tree) for tree in trees]
        bits = [bit for pair in pairs for bit in (pair.true, pair.false)]
        self.term = [z3.If(bit, z3.BitVecVal(1, 1), z3.BitVecVal(0, 1)) for bit in bits]
        self.count = len(bits)
        self.whole = z3.Concat(*self.term) if self.count > 1 else None

    def outcomes(self, leaves: Leaves) -> Truths:
        if not self.count:
            return []
        values = [
            pair for path, tests in self.tests.items() for pair in assign(leaves[path], *tests)
        ]
        number = z3.simplify(z3.substitute(self.whole, *values)).as_long()
        digits = f"{number:0{self.count}b}"
        return [truth(digits[n] == "1", digits[n + 1] == "1") for n in range(0, self.count, 2)]


def assign(
    leaf: Leaf, flags: frozenset[str], lists: frozenset[tuple[str, ...]]
) -> Iterator[tuple[z3.ExprRef, z3.ExprRef]]:
    """Each variable of a leaf with its value on one order; `flags` and `lists` are read of it.

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


def tests_of(trees: Iterable[Tree]) -> dict[str, Tests]:
    """The leaves that trees read, each with the flags and the lists that are looked for in it."""
    every = {atom: paths_of(atom) for tree in trees for atom in atoms(tree)}
    flags, lists = defaultdict(set), defaultdict(set)
    for atom in every:
        if isinstance(atom, Written):
            flags[atom.path].add(atom.flag)
        elif isinstance(atom, Names):
            lists[atom.path].add(atom.listed)
    assert all(each <= FLAGS for each in flags.values())
    paths = sorted({path for found in every.values() for path in found})
    return {path: (frozenset(flags[path]), frozenset(lists[path])) for path in paths}


def by_sql(trees: Sequence[Tree], orders: Sequence[Leaves]) -> list[Truths]:
    """What DuckDB makes of the trees over a table with one row an order."""
    if not trees:
        return [[] for _ in orders]
    tests = tests_of(trees)
    scope = Scope(field_table(), change=True)
    fields = [replace(scope.field(path, 0)[1], path=path) for path in tests]
    columns_of_all = (c for field in fields for c in columns(field, *tests[field.path]))
    definitions = ["n INTEGER", *columns_of_all]
    rows = [
        [n, *(v for path, found in tests.items() for v in row(leaves[path], *found))]
        for n, leaves in enumerate(orders)
    ]
    database = _database()
    database.execute(f"CREATE OR REPLACE TABLE orders ({', '.join(definitions)})")
    marks = f"({', '.join('?' * len(definitions))})"
    # Many rows a statement: one by one they take three times as long.
    size = max(1, 2_000 // len(definitions))
    for batch in (rows[start : start + size] for start in range(0, len(rows), size)):
        every = ", ".join([marks] * len(batch))
        database.execute(f"INSERT INTO orders VALUES {every}", [*chain.from_iterable(batch)])
    selected = ", ".join(sql(tree) for tree in trees)
    found = database.execute(f"SELECT {selected} FROM orders ORDER BY n").fetchall()
    return [list(outcomes) for outcomes in found]


def by_polars(trees: Sequence[Tree], orders: Sequence[Leaves]) -> list[Truths]:
    """What polars makes of the trees over a frame with one row an order."""
    columns = {
        column: series
        for path, tests in tests_of(trees).items()
        for column, series in polars_columns([leaves[path] for leaves in orders], *tests)
    }
    frame = pl.DataFrame({"n": range(len(orders)), **columns})
    asked = [to_polars.expression(tree).alias(str(n)) for n, tree in enumerate(trees)]
    found = frame.with_columns(asked).select(map(str, range(len(trees))))
    assert all(kind == pl.Boolean for kind in found.dtypes)
    return [list(row) for row in found.rows()] or [[] for _ in orders]


def polars_columns(
    leaves: Sequence[Leaf], flags: frozenset[str], lists: frozenset[tuple[str, ...]]
) -> Iterator[tuple[str, pl.Series]]:
    """The columns of a leaf over some orders, each with its name."""
    path = leaves[0].path
    field = Scope(field_table(), change=True).field(path, 0)[1]
    kind = pl.Int64 if field.kind in {"quantity", "count", "instant"} else pl.String
    yield to_polars.given_of(path), pl.Series([leaf.given for leaf in leaves])
    yield to_polars.value_of(path), pl.Series([leaf.value for leaf in leaves], dtype=kind)
    units = [leaf.unit if leaf.known else None for leaf in leaves]
    yield to_polars.unit_of(path), pl.Series(units, dtype=pl.String)
    for flag in flags:
        raised = [flag in leaf.flags if leaf.given else None for leaf in leaves]
        yield to_polars.flag_of(path, flag), pl.Series(raised, dtype=pl.Boolean)
    for listed in lists:
        named = [names_one(leaf.text, listed) if leaf.has_words else None for leaf in leaves]
        yield to_polars.named_of(path, listed), pl.Series(named, dtype=pl.Boolean)


@functools.cache
def _database() -> duckdb.DuckDBPyConnection:
    """One for all the tables of a test process: to open one takes longer than to ask it."""
    return duckdb.connect(config={"threads": 1})
