"""The walkers agree on every rule, on orders drawn at and beside the rules' own literals."""

from __future__ import annotations

import pytest
from drawing import share_of
from hypothesis import given, settings
from orders import changed_orders, orders
from walkers import Solved, by_evaluate, by_polars, by_sql

from orderlint.rulebook.load import load

BOOK = load("all")
OF_ONE = [(rule.id, each.condition) for rule in BOOK.order_rules for each in rule.instances]
OF_TWO = [(rule.id, each.condition) for rule in BOOK.change_rules for each in rule.instances]


def agree(count: int, conditions, drawn) -> None:
    names = [name for name, _ in conditions]
    trees = [tree for _, tree in conditions]
    solved = Solved(trees)
    seen, meant = [], []

    @settings(max_examples=count, database=None)
    @given(drawn)
    def on_one_order(leaves):
        truths = [by_evaluate(tree, leaves) for tree in trees]
        differ = [
            name
            for name, ours, theirs in zip(names, truths, solved.outcomes(leaves), strict=True)
            if ours is not theirs
        ]
        assert not differ
        seen.append(leaves)
        meant.append(truths)

    on_one_order()
    assert len(seen) >= count
    # One table for all the orders: a database is asked once, as an audit would.
    for found in (by_sql(trees, seen), by_polars(trees, seen)):
        for leaves, ours, theirs in zip(seen, meant, found, strict=True):
            differ = [n for n, a, b in zip(names, ours, theirs, strict=True) if a is not b]
            assert not differ, leaves


@pytest.mark.hypothesis
def test_the_walkers_agree():
    agree(share_of(80), OF_ONE, orders())


@pytest.mark.hypothesis
def test_the_walkers_agree_on_changes():
    agree(share_of(40), OF_TWO, changed_orders())


@pytest.mark.deep
@pytest.mark.parametrize("shard", range(4))
def test_the_walkers_agree_on_twenty_thousand_orders(shard):
    del shard  # each shard draws its own 5,000
    agree(5_000, OF_ONE, orders())
    agree(1_000, OF_TWO, changed_orders())
