"""The walkers agree on any tree there can be, and not only on those of the rulebook."""

from __future__ import annotations

from dataclasses import replace

from drawing import most
from drawn_trees import EVERY, leaf, trees_over
from hypothesis import given
from hypothesis import strategies as st
from walkers import by_evaluate, by_polars, by_python, by_solve, by_sql

from orderlint.language.evaluate import missing
from orderlint.language.tree import And, Not, Or

TEXTS = ("x", "no x", "y x z", "mmHg")


def _in_blank(drawn):
    """The leaf as one that stands for what is still to be written."""
    return replace(drawn, to_be_written=True)


def _leaf(path):
    of_order = leaf(path, texts=TEXTS)
    return st.one_of(of_order, of_order, of_order.map(_in_blank))


LEAVES = st.fixed_dictionaries({path: _leaf(path) for path in EVERY})


@most(150)
@given(st.lists(trees_over(EVERY), min_size=1, max_size=6), LEAVES)
def test_the_walkers_agree_on_any_tree(trees, leaves):
    meant = [by_evaluate(tree, leaves) for tree in trees]
    assert by_solve(trees, leaves) == meant
    assert by_sql(trees, [leaves]) == by_python(trees, [leaves]) == [meant]
    assert by_polars(trees, [leaves]) == [meant]


def meant_to_be_missing(tree, leaves):
    """The leaves for lack of which a tree is unknown, part by part."""
    if by_evaluate(tree, leaves) is not None:
        return []
    match tree:
        case Not(item):
            return meant_to_be_missing(item, leaves)
        case And(items) | Or(items):
            return [path for item in items for path in meant_to_be_missing(item, leaves)]
        case _:
            return missing(tree, leaves)


@most(60)
@given(trees_over(EVERY), LEAVES)
def test_what_is_missing_is_what_is_missing_in_the_parts_that_are_unknown(tree, leaves):
    found = missing(tree, leaves)
    assert found == tuple(dict.fromkeys(meant_to_be_missing(tree, leaves)))
    assert bool(found) == (by_evaluate(tree, leaves) is None)
