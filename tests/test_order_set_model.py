"""What the picks of an order set yield: what is not taken or not shown is absent."""

from __future__ import annotations

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.language.surface import Name
from orderlint.language.tree import Given, Member, Subject
from orderlint.order import Leaf, State
from orderlint.order_set.model import Gate, OfferedSection, OrderSet, order_of, within

HERE = Place("set.yaml", 1, 1)
EMPTY = {path: Leaf(path) for path in field_table().fields}


def known(path, value):
    return Leaf(path, State.KNOWN, value)


def gate(path, tree):
    return Gate(path, tree, Name("therapy", 0), HERE)


def order_set(*gates, sections=()):
    offered = {path: OfferedSection(path, True, HERE) for path in sections}
    return OrderSet("set.yaml", {}, {}, offered, gates)


IRRIGATES = Member(Subject("therapy"), ("irrigation",))
PICKED = {
    **EMPTY,
    "therapy": known("therapy", "irrigation"),
    "irrigation.rate": known("irrigation.rate", 7),
    "titration.max": known("titration.max", 9),
}


def test_all_that_was_picked_stands_where_nothing_hides_it():
    assert order_of(order_set(), PICKED, {}) == PICKED


def test_a_section_that_was_not_taken_is_absent():
    made = order_of(order_set(sections=["titration"]), PICKED, {"titration": False})
    assert not made["titration.max"].given
    assert made["irrigation.rate"].known


def test_a_leaf_is_shown_where_its_condition_is_true_alone():
    shown = order_set(gate("irrigation.rate", IRRIGATES))
    for therapy in (
        Leaf("therapy"),
        Leaf("therapy", State.UNREADABLE),
        known("therapy", "drainage"),
    ):
        assert not order_of(shown, {**PICKED, "therapy": therapy}, {})["irrigation.rate"].given
    assert order_of(shown, PICKED, {}) == PICKED


def test_what_is_hidden_hides_what_asks_for_it():
    chain = order_set(gate("irrigation", IRRIGATES), gate("titration", Given(("irrigation.rate",))))
    made = order_of(chain, {**PICKED, "therapy": known("therapy", "drainage")}, {})
    assert [path for path, leaf in made.items() if leaf.given] == ["therapy"]


def test_what_lies_within_a_section():
    assert within("pause.lower", "pause")
    assert within("pause.lower", "pause.lower")
    assert not within("pause.lower", "pause.low")
