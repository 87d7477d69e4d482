"""What one set yields and another does not, as enumeration of both says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawing import most
from drawn_sets import TURNS, distance, every_order, is_broken, sets_and_rules, squares_a_range
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from order_sets import example, order_set, some_rules

from orderlint.fields import field_table
from orderlint.language.evaluate import evaluate
from orderlint.order import Leaf, State
from orderlint.proof import set_difference
from orderlint.proof.prover import Decision
from orderlint.proof.search_space import Disagreement, Limits
from orderlint.proof.set_difference import OrdersOutside, difference_of
from orderlint.proof.set_membership import yields
from orderlint.rulebook.load import load

AMPLE = Limits(clauses=50_000, corners=500_000)
SOUND, CORNERS = "set-irrigation-adult.yaml", "set-irrigation-corners.yaml"


@st.composite
def changed(draw, order_set):
    """The set with options taken out, a section no longer offered, or a condition gone."""
    slots = dict(order_set.slots)
    for path, slot in order_set.slots.items():
        if len(slot.options) > 1 and draw(st.booleans()):
            gone = draw(st.integers(0, len(slot.options) - 1))
            kept = (*slot.options[:gone], *slot.options[gone + 1 :])
            slots[path] = replace(slot, options=kept, preset=draw(st.sampled_from([None, 0])))
        if draw(st.integers(0, 5)) == 0:
            slots[path] = replace(slots[path], span=None)
    sections = {p: t for p, t in order_set.offered_sections.items() if draw(st.integers(0, 2))}
    gates = tuple(gate for gate in order_set.gates if draw(st.integers(0, 2)))
    return replace(order_set, slots=slots, offered_sections=sections, gates=gates)


@st.composite
def pairs(draw):
    order_set, rulebook = draw(sets_and_rules())
    return draw(changed(order_set)), draw(changed(order_set)), rulebook


def by_key(order_set):
    """Every order, by all that makes it differ from another."""
    found = {}
    for order in every_order(order_set):
        key = tuple(
            (leaf.state, leaf.value, leaf.unit, leaf.flags, "" if leaf.known else leaf.text)
            for leaf in order.leaves.values()
        )
        found.setdefault(key, []).append(order)
    return found


WORDS = {(0, 0): "equal", (1, 0): "stricter", (0, 1): "looser", (1, 1): "both"}


def nearest(order_set, orders):
    """The least distance from the presets of any of some orders."""
    return min(distance(order_set, order) for order in orders)


def far(order_set, found):
    chosen = {pick.path: pick for pick in found.picks}
    sections_on = {taking.path: taking.taken for taking in found.sections}
    ways = [
        order
        for order in every_order(order_set)
        if order.leaves == found.leaves
        and all(order.sections_on[path] == taken for path, taken in sections_on.items())
        and all(
            order.chosen[path] == (pick.leaf if pick.index is None else pick.index)
            for path, pick in chosen.items()
        )
    ]
    return min(distance(order_set, way) for way in ways)


def check(drawn):
    before, after, rulebook = drawn
    # On some of those a proof is given up, by design.
    assume(not any(squares_a_range(each, rulebook) for each in (before, after)))
    old, new = by_key(before), by_key(after)
    gone = [order for key in old.keys() - new.keys() for order in old[key]]
    added = [order for key in new.keys() - old.keys() for order in new[key]]
    found = difference_of(before, after, rulebook, AMPLE)
    assert found.open == ()
    assert {*found.unsettled.values()} <= {TURNS}
    assert found.relation == WORDS[bool(gone), bool(added)]
    for orders, shown, its in ((gone, found.gone, before), (added, found.new, after)):
        assert (shown is None) == (not orders)
        if shown is not None:
            assert shown.is_least
            assert far(its, shown) == nearest(its, orders)
    check_rules(before, after, added, found, rulebook)
    for key, orders in old.items():
        assert yields(after, orders[0].leaves) == (key in new)


def check_rules(before, after, added, found, rulebook):
    rules = rulebook.rules.values()
    broken = {item.rule: item for item in found.broken}
    for rule in rules:
        if rule.id in found.unsettled:
            continue
        breaking = [order for order in added if is_broken(rule, order)]
        unknown = [o for o in added if any(truth(i, o) is None for i in rule.instances)]
        assert (rule.id in broken) == bool(breaking or unknown)
        if rule.id in broken:
            item = broken[rule.id]
            assert bool(item.missing) == (not breaking)
            assert far(after, item.example) == nearest(after, breaking or unknown)
            was = any(is_broken(rule, order) for order in every_order(before))
            assert (item.before.result is Decision.BROKEN) == was


def truth(instance, order):
    return evaluate(instance.condition, order.leaves)


@most(30)
@given(pairs())
def test_the_comparison_is_that_of_enumeration(drawn):
    check(drawn)


@pytest.mark.deep
@settings(max_examples=2_000)
@given(pairs())
def test_the_comparison_on_thousands_of_pairs(drawn):
    check(drawn)


@pytest.mark.slow
def test_examples_beside_themselves_and_each_other():
    sound, corners = example(SOUND), example(CORNERS)
    rulebook = load("order-set")
    assert difference_of(sound, sound, rulebook).relation == "equal"
    found = difference_of(sound, corners, rulebook)
    assert found.new is not None
    assert not yields(sound, found.new.leaves)
    assert "drain-above-treat-above" in {item.rule for item in found.broken}


def test_no_effort_settles_nothing():
    little = order_set("treat_above: {choose: [8 mmHg, 9 mmHg]}")
    found = difference_of(little, little, some_rules(30), Limits(effort=1, corners=1))
    assert (found.relation, len(found.open)) == ("open", 2)
    assert found.unsettled


def test_a_leaf_that_a_set_does_not_have_must_be_absent():
    sound = example(SOUND)
    assert not yields(replace(sound, slots={}), {"therapy": Leaf("therapy", State.UNREADABLE)})


FLUIDS = ", ".join(f'"{choice}"' for choice in field_table().fields["irrigation.fluid"].choices)
EVERY_FLUID = f"irrigation.fluid: {{choose: [{FLUIDS}]}}"
"""Each fluid that has a name here, and `other` as a word; not each text that is another fluid."""


@pytest.mark.parametrize(
    ("first", "second", "relation"),
    [
        ("stop_when: no more blood", "stop_when: no blood for a day", "equal"),
        ("stop_when: {blank: required, label: When to stop}", "stop_when: no more blood", "equal"),
        ("access: other", "access: subdural", "both"),
        ("stop_when: no more blood", "access: other", "both"),
        ("stop_when: no more blood", "stop_when: ICP > 20", "both"),
        ("treat_above: 8 mmHg", "treat_above: 8.0 mmHg", "both"),
        ("irrigation.fluid: lactated Ringer's", "irrigation.fluid: Lactated Ringers", "equal"),
        ("irrigation.fluid: a broth", "irrigation.fluid: another broth", "both"),
        (EVERY_FLUID, "irrigation.fluid: {blank: required, label: Fluid}", "looser"),
        ("treat_above: 8 mmHg", "treat_above: 10.87608 cmH2O", "both"),
    ],
)
def test_texts_are_not_compared_and_what_a_rule_can_tell_is(first, second, relation, monkeypatch):
    """Every rule can tell orders apart; what each makes of the new orders is not asked here."""
    monkeypatch.setattr(set_difference, "_asked_of", lambda *_: ())
    made = [order_set(nested(line)) for line in (first, second)]
    assert difference_of(*made, load("order-set")).relation == relation


def nested(line):
    """A line whose key is a path, with its section."""
    section, point, rest = line.partition(".")
    return f"{section}: {{{rest}}}" if point and " " not in section else line


@pytest.mark.parametrize(("first", "second"), [("broken", "sound"), ("sound", "broken")])
def test_of_a_set_that_leaves_open_what_it_yields_nothing_is_said(first, second):
    made = {
        "sound": order_set("treat_above: 8 mmHg"),
        "broken": order_set("treat_above: {choose: 8 mmHg}"),
    }
    found = difference_of(made[first], made[second], load("order-set"))
    assert (found.relation, found.gone, found.new, found.broken) == ("open", None, None, ())
    assert found.open == ("set.yaml: faults in the set leave open what it can yield",)


def test_a_solver_that_finds_nothing_where_there_is_something_is_caught(monkeypatch):
    monkeypatch.setattr(set_difference.Prover, "find", lambda *_: None)
    wide = order_set("treat_above: {choose: [8 mmHg, 9 mmHg]}")
    narrow = order_set("treat_above: 8 mmHg")
    with pytest.raises(Disagreement, match="enumeration has one"):
        difference_of(narrow, wide, load("order-set"))


def test_an_order_that_both_sets_yield_is_no_difference(monkeypatch):
    monkeypatch.setattr(set_difference, "yields", lambda *_: True)
    wide = order_set("treat_above: {choose: [8 mmHg, 9 mmHg]}")
    narrow = order_set("treat_above: 8 mmHg")
    with pytest.raises(Disagreement, match="one set alone yields it"):
        difference_of(narrow, wide, load("order-set"))


LEVELS = "[8 mmHg, 9 mmHg, 30 mmHg]"
UPPER = "pause: {upper: {choose: [20 mmHg, 25 mmHg]}}"
WIDE = f"therapy: irrigation\ntreat_above: {{choose: {LEVELS}}}\n{UPPER}"
NARROW = "therapy: irrigation\ntreat_above: 8 mmHg\npause: {upper: 20 mmHg}"
OTHERS = "therapy: irrigation\ntreat_above: 7 mmHg\npause: {upper: 20 mmHg}"


def test_where_every_order_differs_at_one_leaf_no_other_is_asked(monkeypatch):
    asked = []
    real = OrdersOutside._at
    monkeypatch.setattr(OrdersOutside, "_at", lambda *a: asked.append(a[1]) or real(*a))
    found = difference_of(order_set(OTHERS), order_set(WIDE), some_rules(30))
    assert found.new.differing == ("treat_above",)
    assert found.new.is_least
    assert len({*map(id, asked)}) == 2  # each set beside the other


def test_a_leaf_that_is_wrongly_said_never_to_agree_is_caught(monkeypatch):
    monkeypatch.setattr(OrdersOutside, "_never", lambda *_: True)
    with pytest.raises(Disagreement, match="enumeration that it can"):
        difference_of(order_set(NARROW), order_set(WIDE), some_rules(30))


@pytest.mark.slow
def test_a_nearer_order_that_is_not_settled_is_said(monkeypatch):
    monkeypatch.setattr(set_difference, "nearest_within", lambda *_: (None, False))
    found = difference_of(order_set(NARROW), order_set(WIDE), load("order-set"))
    least = {item.rule: item.example.is_least for item in found.broken}
    assert not least["treat-above-over-upper-pause"]
