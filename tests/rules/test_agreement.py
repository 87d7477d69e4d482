"""The three walkers agree on every rule, on orders drawn at and beside the rules' own literals."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from orders import orders
from walkers import Solved, by_evaluate, by_sql

from orderlint.rulebook.load import built_in

TREES = [instance.sound for rule in built_in().rules.values() for instance in rule.instances]
NAMES = [rule.id for rule in built_in().rules.values() for _ in rule.instances]


def agree(count: int) -> None:
    solved = Solved(TREES)
    seen, meant = [], []

    @settings(
        max_examples=count, deadline=None, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(orders())
    def on_one_order(leaves):
        truths = [by_evaluate(tree, leaves) for tree in TREES]
        differ = [
            name
            for name, ours, theirs in zip(NAMES, truths, solved.outcomes(leaves), strict=True)
            if ours is not theirs
        ]
        assert not differ
        seen.append(leaves)
        meant.append(truths)

    on_one_order()
    assert len(seen) >= count
    # One table for all the orders: a database is asked once, as an audit would.
    for leaves, ours, theirs in zip(seen, meant, by_sql(TREES, seen), strict=True):
        differ = [n for n, a, b in zip(NAMES, ours, theirs, strict=True) if a is not b]
        assert not differ, leaves


def test_the_walkers_agree():
    agree(80)


@pytest.mark.deep
@pytest.mark.parametrize("shard", range(4))
def test_the_walkers_agree_on_twenty_thousand_orders(shard):
    del shard  # each shard draws its own 5,000
    agree(5_000)
