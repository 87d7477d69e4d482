"""A condition on an order as signed is the one on that order with its absent leaves filled."""

from __future__ import annotations

from drawing import most
from drawn_trees import EVERY, known_leaf, leaf, trees_over
from hypothesis import given
from hypothesis import strategies as st
from walkers import by_evaluate, by_solve, by_sql

from orderlint.language.defaults import with_defaults

LEAVES = st.fixed_dictionaries({path: leaf(path) for path in EVERY})
DEFAULTS = st.fixed_dictionaries({}, optional={path: known_leaf(path) for path in EVERY})


@most(200)
@given(st.lists(trees_over(EVERY), min_size=1, max_size=6), LEAVES, DEFAULTS)
def test_it_says_of_an_order_what_the_tree_says_of_the_order_filled(trees, leaves, defaults):
    absent = {path for path, leaf in leaves.items() if not leaf.given}
    filled = {**leaves, **{path: leaf for path, leaf in defaults.items() if path in absent}}
    made = [with_defaults(tree, defaults) for tree in trees]
    meant = [by_evaluate(tree, filled) for tree in trees]
    assert [by_evaluate(tree, leaves) for tree in made] == meant
    assert by_solve(made, leaves) == meant
    assert by_sql(made, [leaves]) == [meant]


@most(50)
@given(trees_over(EVERY))
def test_without_defaults_nothing_changes(tree):
    assert repr(with_defaults(tree, {})) == repr(tree)
