"""The generated function: nothing that a file says is run, and a slip in it is noticed."""

from __future__ import annotations

import re

import pytest
from drawing import most
from drawn_trees import EVERY, FLAGS, leaf, trees_over
from hypothesis import given
from hypothesis import strategies as st
from walkers import by_evaluate, by_python

from orderlint.language.to_python import DEEPEST, compiled, python
from orderlint.language.tree import (
    And,
    Compare,
    Given,
    Member,
    Multiple,
    Names,
    Not,
    OneKind,
    Or,
    Same,
    Subject,
    Term,
    Written,
)
from orderlint.order import Leaf, State

HOSTILE = (
    "'); raise SystemExit #",
    '"\n import os\n',
    "__import__('os').abort()",
    "{leaves}",
    "\\",
    "c0",
    "None",
    "a\x00b",
    "\u2028",
    "",
)


def everything(word: str):
    """A tree of every kind of node, in which each text is this word."""
    subject, unit = Subject(word), Subject(word, is_unit=True)
    kind = OneKind((word,), ((word,), (f"{word}2",)))
    return And(
        (
            Or((Given((word,)), Not(Written(word, word)), Names(word, (f"x {word}",)))),
            Compare((Term(2, (word,)), Term(-1, (word, word))), "<=", -3, kind),
            Or((Multiple(word, 4), Member(subject, (word,)), Same(subject, unit))),
        )
    )


@pytest.mark.parametrize("word", HOSTILE)
def test_no_text_of_a_file_stands_in_the_function(word):
    source = python([everything(word), everything(f"{word}3")])
    assert source.text == python([everything("plain"), everything("plain3")]).text
    assert re.fullmatch(r"[a-zA-Z0-9_ \n.,:()\[\]=<>*+%-]*", source.text)


@pytest.mark.parametrize("word", HOSTILE)
def test_a_hostile_text_is_compared_as_any_other(word):
    trees = [Member(Subject("a"), (word,)), Written("a", word), Same(Subject("a"), Subject("b"))]
    leaves = {
        "a": Leaf("a", State.KNOWN, word, None, word, frozenset({word})),
        "b": Leaf("b", State.KNOWN, word, None, word),
    }
    assert by_python(trees, [leaves]) == [[True, True, True]]


def test_a_kind_of_node_that_it_does_not_know_is_an_error():
    with pytest.raises(AssertionError, match="a kind of node"):
        compiled(["a kind of node"])


def test_a_deep_condition_is_no_deeper_in_brackets():
    tree = Given(("starts",))
    for number in range(30 * DEEPEST):
        tree = (And, Or)[number % 2]((tree, Multiple("revision", number + 1)))
    leaves = {"starts": Leaf("starts"), "revision": Leaf("revision", State.KNOWN, 5, None, "5")}
    assert by_python([tree, Not(tree)], [leaves]) == [
        [by_evaluate(tree, leaves), by_evaluate(Not(tree), leaves)]
    ]


LEAVES = st.fixed_dictionaries({path: leaf(path) for path in EVERY})


NOTATION = st.builds(
    lambda path, flag: Or((Not(And((Given((path,)),))), Not(Written(path, flag)))),
    st.sampled_from(["pause.lower", "pause.upper"]),
    st.sampled_from(sorted(FLAGS)[:4]),
)
"""Conditions that only look for a flag, as those of the notation rules do."""


@most(60)
@given(st.lists(st.one_of(NOTATION, trees_over(EVERY)), min_size=1, max_size=8), LEAVES)
def test_conditions_that_only_look_for_a_flag_are_asked_as_all_others(trees, leaves):
    assert by_python(trees, [leaves]) == [[by_evaluate(tree, leaves) for tree in trees]]


SHOWN = """
def check(leaves):
 l0 = leaves[c3]
 l1 = leaves[c4]
 l2 = leaves[c5]
 l3 = leaves[c6]
 l4 = leaves[c7]
 l5 = leaves[c8]
 l6 = leaves[c9]
 nl2 = named_l2(l2.text) if l2.text and not l2.to_be_written else None
 vl0 = l0.value
 vl1 = l1.value
 gl3 = l3.state is not absent
 gl4 = l4.state is not absent
 gl5 = l5.state is not absent
 ul6 = l6.unit if l6.state is known else None
 gl6 = l6.state is not absent
 broken, unknown = [], []
 x0 = (vl0 in c0) if vl0 is not None else None
 if not ((x0 is False) or (vl1 is not None and (vl1 <= 7))):
  (broken if (x0 and (vl1 is not None and not (vl1 <= 7))) else unknown).append(0)
 if not ((x0 is False) or (nl2 is not None and not (0 in nl2))):
  (broken if (x0 and (nl2 is not None and (0 in nl2))) else unknown).append(2)
 x1 = (gl3 or gl4)
 if not ((gl5) and ((x1 is False) or (gl5))):
  (broken if ((not (gl5)) or (x1 and (not (gl5)))) else unknown).append(3)
 if not x1:
  (broken if (x1 is False) else unknown).append(4)
 if not (ul6 is not None and (ul6 in c1)):
  (broken if (ul6 is not None and not (ul6 in c1)) else unknown).append(5)
 if l6.flags and gl6: broken.extend([number for flag, number in c2 if flag in l6.flags])
 broken.sort()
 return broken, unknown
"""


def test_a_function():
    irrigates = Member(Subject("therapy"), ("irrigation",))
    bag, drain = Given(("irrigation.bag",)), Given(("drainage.bag", "drainage.height"))
    trees = [
        Or((Not(irrigates), Compare((Term(1, ("revision",)),), "<=", 7))),
        Or((Not(And((Given(("pause.lower",)),))), Not(Written("pause.lower", "a flag")))),
        Or((Not(irrigates), Not(Names("stop_when", ("x",))))),
        And((bag, Not(And((drain, Not(bag)))))),
        drain,
        Member(Subject("pause.lower", is_unit=True), ("mmHg",)),
    ]
    assert python(trees).text == SHOWN.strip()
