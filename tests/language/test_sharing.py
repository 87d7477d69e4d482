"""What conditions have in common: equal nodes, and no others, are one object."""

from __future__ import annotations

import pytest
from drawing import most
from drawn_trees import EVERY, trees_over
from hypothesis import given
from hypothesis import strategies as st

from orderlint.language.sharing import Sharing, height, notation_of, uses
from orderlint.language.tree import And, Given, Member, Multiple, Not, Or, Same, Subject, Written

A, B, C = Given(("a",)), Given(("b",)), Multiple("c", 2)
FLAG = Written("a", "f")


def again(tree):
    """An equal tree of which no node is the same object."""
    match tree:
        case Not(item):
            return Not(again(item))
        case And(items) | Or(items):
            return type(tree)(tuple(map(again, items)))
        case _:
            return type(tree)(*tree)


@most(60)
@given(st.lists(trees_over(EVERY), min_size=1, max_size=4))
def test_equal_trees_are_one_object_and_unequal_ones_two(trees):
    sharing = Sharing()
    shared = [sharing.shared(tree) for tree in trees]
    assert [sharing.shared(again(tree)) for tree in trees] == shared
    for tree, one in zip(trees, shared, strict=True):
        assert sharing.shared(again(tree)) is one
        for other, two in zip(trees, shared, strict=True):
            assert (one is two) == (plain(tree) == plain(other))


def plain(tree) -> str:
    """A tree in words, without an `and` or an `or` of one."""
    match tree:
        case Not(item):
            return f"not {plain(item)}"
        case And((item,)) | Or((item,)):
            return plain(item)
        case And(items) | Or(items):
            return f"{type(tree).__name__}({', '.join(map(plain, items))})"
        case _:
            return repr(tree)


def test_an_and_is_no_or_of_the_same():
    sharing = Sharing()
    assert sharing.shared(And((A, C))) is not sharing.shared(Or((A, C)))
    inner = And((And((A, C)), C)), And((Or((A, C)), C))
    assert len({id(sharing.shared(tree)) for tree in inner}) == 2
    assert sharing.shared(And((Or((A,)),))) is sharing.shared(A)
    alike = Same(Subject("a"), Subject("b")), Member(Subject("a"), ("b", False))
    assert alike[0] == alike[1]
    assert sharing.shared(alike[0]) is not sharing.shared(alike[1])


def test_uses_are_counted_once_for_each_node_that_a_node_stands_in():
    sharing = Sharing()
    inner = Or((A, C))
    trees = [sharing.shared(t) for t in (And((inner, B)), Not(inner), And((inner, B)), Not(Not(C)))]
    found = uses(trees)
    node = sharing.shared
    # The two equal trees are one node, which has two uses of its own and one of each item.
    assert [found[id(node(each))] for each in (And((inner, B)), inner, A, B, C)] == [2, 2, 1, 1, 2]
    assert found[id(node(Not(inner)))] == 0


@pytest.mark.parametrize(
    ("tree", "levels"),
    [
        (A, 0),
        (Not(A), 0),
        (And((A, Or((B, C)))), 2),
        (Not(And((Not(Or((A, B))),))), 2),
        (Or(()), 1),
    ],
)
def test_the_height_of_a_tree(tree, levels):
    assert height(tree) == levels


@pytest.mark.parametrize(
    ("tree", "found"),
    [
        (Or((Not(A), Not(FLAG))), ("a", "f")),
        (Or((Not(B), Not(FLAG))), None),
        (Or((Not(Given(("a", "b"))), Not(FLAG))), None),
        (Or((Not(A), FLAG)), None),
        (Or((A, Not(FLAG))), None),
        (Or((Not(FLAG), Not(A))), None),
        (Or((Not(A), Not(FLAG), C)), None),
        (And((Not(A), Not(FLAG))), None),
        (Not(FLAG), None),
    ],
)
def test_a_condition_that_only_looks_for_a_flag(tree, found):
    assert notation_of(tree) == found
