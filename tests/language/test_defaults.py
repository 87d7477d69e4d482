"""A condition on an order as signed is the one on that order with its absent leaves filled."""

from __future__ import annotations

import pytest
from drawing import most
from drawn_trees import EVERY, known_leaf, leaf, trees_over
from hypothesis import given
from hypothesis import strategies as st
from walkers import by_evaluate, by_python, by_solve, by_sql

from orderlint.language.defaults import with_defaults
from orderlint.language.tree import Compare, OneKind, Term
from orderlint.order import Leaf, State

LEAVES = st.fixed_dictionaries({path: leaf(path) for path in EVERY})
DEFAULTS = st.fixed_dictionaries({}, optional={path: known_leaf(path) for path in EVERY})


@pytest.mark.slow
@most(200)
@given(st.lists(trees_over(EVERY), min_size=1, max_size=6), LEAVES, DEFAULTS)
def test_it_says_of_an_order_what_the_tree_says_of_the_order_filled(trees, leaves, defaults):
    absent = {path for path, leaf in leaves.items() if not leaf.given}
    filled = {**leaves, **{path: leaf for path, leaf in defaults.items() if path in absent}}
    made = [with_defaults(tree, defaults) for tree in trees]
    meant = [by_evaluate(tree, filled) for tree in trees]
    assert [by_evaluate(tree, leaves) for tree in made] == meant
    assert by_solve(made, leaves) == meant
    assert by_sql(made, [leaves]) == by_python(made, [leaves]) == [meant]


def test_a_comparison_of_unlike_units_is_unknown_with_a_default_as_without():
    lower = Leaf("pause.lower", State.KNOWN, 0, "cmH2O", "x")
    for others in ((), ("pause.upper",)):
        terms = tuple(Term(1, (path,)) for path in ("pause.lower", *others))
        alone = OneKind(("pause.lower", *others), (("mmHg",),))
        tree = Compare(terms, "<", 1, alone)
        leaves = {
            "pause.lower": Leaf("pause.lower"),
            "pause.upper": Leaf("pause.upper", State.KNOWN, 0, "mmHg", "x"),
        }
        made = with_defaults(tree, {"pause.lower": lower})
        assert by_evaluate(made, leaves) is None
        assert by_solve([made], leaves) == [None]
        assert by_sql([made], [leaves]) == by_python([made], [leaves]) == [[None]]


@most(50)
@given(trees_over(EVERY))
def test_without_defaults_nothing_changes(tree):
    assert repr(with_defaults(tree, {})) == repr(tree)
