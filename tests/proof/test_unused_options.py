"""Counts, choices and narrowings are those that trying each order gives."""

from __future__ import annotations

import functools
import itertools
from dataclasses import replace

import pytest
from drawing import most
from drawn_sets import (
    HERE,
    NAME,
    every_order,
    outcome,
    rule_of,
    rulebook_of,
    set_of,
    sets,
    sets_and_rules,
    squares_a_range,
)
from hypothesis import assume, given, settings

from orderlint.finding import Level
from orderlint.language.evaluate import evaluate
from orderlint.language.tree import Compare, Same, Subject, Term
from orderlint.order import Leaf, State
from orderlint.order_set.model import Gate, Slot, Span, within
from orderlint.proof.counting import count
from orderlint.proof.narrowing import (
    apply,
    intersection,
    leaves_nothing,
    meet,
    narrowings_of,
    width,
)
from orderlint.proof.prover import Prover
from orderlint.proof.unused_options import choices_of


def is_sound(rulebook, order):
    return all(
        evaluate(instance.condition, order.leaves) is True
        for rule in rulebook.rules.values()
        if rule.level is Level.DO_NOT_START
        for instance in rule.instances
    )


def shows(order_set, order, path):
    offered = order_set.offered_sections
    taken = all(order.sections_on[section] for section in offered if within(path, section))
    return taken and all(
        evaluate(gate.tree, order.leaves) is True
        for gate in order_set.gates
        if within(path, gate.path)
    )


def choices_are_right(drawn):
    order_set, rulebook = drawn
    # On some of those a proof is given up, by design: see the test of such a set below.
    assume(not squares_a_range(order_set, rulebook))
    found = choices_of(Prover(order_set, rulebook.rules.values()), list(rulebook.rules.values()))
    orders = list(every_order(order_set))
    sound = [order for order in orders if is_sound(rulebook, order)]
    assert (found.sound is not None) == bool(sound)
    assert not found.sound_is_open
    assert not found.open
    assert not found.shown_is_open
    gated = dict.fromkeys(gate.path for gate in order_set.gates)
    never = [path for path in gated if not any(shows(order_set, o, path) for o in orders)]
    assert list(found.never_shown) == never
    if not sound:
        against = [rulebook.rules[rule] for rule in found.rules_against]
        assert against
        assert not any(
            all(evaluate(i.condition, o.leaves) is True for r in against for i in r.instances)
            for o in orders
        )
        return
    used = {
        (path, order.chosen[path])
        for order in sound
        for path in order_set.slots
        if isinstance(order.chosen[path], int) and shows(order_set, order, path)
    }
    shown = {path for path in order_set.slots if any(shows(order_set, o, path) for o in orders)}
    unused = {
        (path, index)
        for path, slot in order_set.slots.items()
        for index in range(len(slot.options))
        if path in shown and len(slot.options) + bool(slot.span) > 1 and (path, index) not in used
    }
    told = {(never.path, never.index) for never in found.never_sound if never.path in shown}
    assert told == unused
    for each in found.never_sound:
        against = [rulebook.rules[rule] for rule in each.rules]
        assert not any(
            all(evaluate(i.condition, o.leaves) is True for r in against for i in r.instances)
            for o in orders
            if o.chosen[each.path] == each.index and shows(order_set, o, each.path)
        )


@most(40)
@given(sets_and_rules())
def test_choices_are_those_of_enumeration(drawn):
    choices_are_right(drawn)


@most(40)
@given(sets_and_rules(most=1, spanned_too=False))
def test_choices_of_a_set_with_nothing_to_pick_are_those_of_enumeration(drawn):
    choices_are_right(drawn)


@pytest.mark.parametrize(("lowest", "known"), [(-3, False), (0, True)])
def test_what_is_given_up_of_a_section_is_open_and_not_left_out(lowest, known):
    """A square turns twice below zero. That the rate is never shown then helps nobody."""
    rate, revision = "irrigation.rate", "revision"
    slots = [
        Slot(rate, (), None, Span(lowest, 6, {"": 1})),
        Slot(revision, (Leaf(revision, State.KNOWN, 1, None, "1"),), 0),
        Slot("pause.lower", (Leaf("pause.lower", State.KNOWN, 1, "mmHg", "1 mmHg"),), 0),
    ]
    never = Compare((Term(1, (revision,)),), "==", 5)
    square = Compare((Term(1, (rate, rate)),), "<", 4)
    gates = [Gate("irrigation", never, NAME, HERE), Gate("pause.lower", square, NAME, HERE)]
    order_set = set_of(slots, gates=gates)
    assert not any(
        shows(order_set, order, gate.path) for order in every_order(order_set) for gate in gates
    )
    found = choices_of(Prover(order_set, ()), ())
    assert (found.never_shown, found.shown_is_open) == (
        (("irrigation", "pause.lower"), ()) if known else (("irrigation",), ("pause.lower",))
    )


def told_by_text(order_set):
    """The set with texts from which the flags can be read, as they can in a file."""

    def plain(leaf):
        return replace(leaf, text=f"{leaf.text} {sorted(leaf.flags)}") if leaf.given else leaf

    slots = {
        path: replace(slot, options=tuple(plain(leaf) for leaf in slot.options))
        for path, slot in order_set.slots.items()
    }
    return replace(order_set, slots=slots)


def count_is_right(order_set):
    order_set = told_by_text(order_set)
    spans = {path for path, slot in order_set.slots.items() if slot.span}
    different = {
        tuple(
            (path, leaf.state, leaf.value, leaf.unit, leaf.text)
            for path, leaf in order.leaves.items()
            if path not in spans
        )
        for order in every_order(order_set)
    }
    found = count(order_set)
    assert found.is_exact or squares_a_range(order_set, rulebook_of())
    assert set(found.left_out) == spans
    assert found.orders == len(different) if found.is_exact else found.orders >= len(different)


def test_a_count_that_cannot_be_exact_is_no_smaller_and_says_so():
    rate, maximum = "irrigation.rate", "titration.max"
    shown = tuple(Leaf(maximum, State.KNOWN, value, None, str(value)) for value in (1, 2))
    blank = Slot(rate, (Leaf(rate, State.KNOWN, 0, None, "0"),), None, Span(-2, 2, {"": 1}))
    square = Compare((Term(1, (rate, rate)),), "<", 1)
    gated = set_of([blank, Slot(maximum, shown, None)], gates=[Gate(maximum, square, NAME, HERE)])
    found = count(gated)
    assert not found.is_exact
    count_is_right(gated)


@most(60)
@given(sets())
def test_orders_are_counted_as_enumeration_counts_them(order_set):
    count_is_right(order_set)


def narrowed_in_every_way(slot):
    """Each smaller choice there is, by index."""
    size = len(slot.options)
    return [[n for n in range(size) if bits >> n & 1] for bits in range(1, 2**size - 1)]


def is_kept(rule, orders):
    return outcome(rule, orders) in {"proved", "vacuous"}


def widest_way(rule, slot, orders):
    """How many options can be kept; with the preset, where it can be among them."""
    sizes = {True: 0, False: 0}
    for way in narrowed_in_every_way(slot):
        if is_kept(rule, [order for order in orders if order.chosen[slot.path] in way]):
            with_preset = slot.preset is not None and slot.preset in way
            sizes[with_preset] = max(sizes[with_preset], len(way))
    return sizes[True] or sizes[False]


def widest_of_span(rule, slot, orders):
    """The options of a blank that can be kept, and the width of the widest range beside them.

    Between ends that can be written in the first of its units, as that is how they are said.
    """
    options = range(len(slot.options))
    good = [n for n in options if is_kept(rule, [o for o in orders if o.chosen[slot.path] == n])]
    first = next(iter(slot.span.grids.values()))
    values = [v for v in range(slot.span.lowest, slot.span.highest + 1) if v % first == 0]
    widths = [
        high - low
        for low, high in itertools.combinations_with_replacement(values, 2)
        if is_kept(rule, [o for o in orders if within_range(o.chosen[slot.path], low, high)])
    ]
    whole = [order for order in orders if not isinstance(order.chosen[slot.path], int)]
    if is_kept(rule, whole):
        widths.append(slot.span.highest - slot.span.lowest)
    return good, max(widths, default=None)


def within_range(choice, low, high):
    return not isinstance(choice, int) and low <= choice.value <= high


def narrowings_are_right(drawn):
    order_set, rulebook = drawn
    orders = list(every_order(order_set))
    prover = Prover(order_set, rulebook.rules.values())
    first = {}
    for rule in rulebook.rules.values():
        proof = prover.decide(rule)
        if proof.result.value != "broken":
            continue
        made, is_open = narrowings_of(prover, rule, proof.witness)
        assert not is_open or squares_a_range(order_set, rulebook)
        found = {each.path: each for each in made}
        for path, slot in order_set.slots.items():
            each = found.get(path)
            if slot.span is None:
                assert (len(each.kept) if each else 0) == widest_way(rule, slot, orders)
            elif not is_open:
                good, widest = widest_of_span(rule, slot, orders)
                assert (list(each.kept) if each else []) == good
                assert (width(each.span) if each and each.span else None) == widest
        for each in made:
            spoken = outcome(rule, list(every_order(apply(order_set, each))))
            assert spoken == ("vacuous" if each.is_vacuous else "proved")
        if made:
            first[rule.id] = made[0]
    together_is_right(prover, rulebook, first)


def together_is_right(prover, rulebook, narrowings):
    """Together they keep each rule that one of them keeps, and all are needed; or none is left."""
    rules = [rulebook.rules[name] for name in narrowings]
    found = meet(prover, rules, narrowings.values())
    slots = prover.space.order_set.slots
    if found:
        assert are_kept(rules, with_changes(prover.space.order_set, found))
        assert {each.path for each in found} <= {each.path for each in narrowings.values()}
        for each in found:
            for wider in given_back(slots[each.path], each):
                others = [other for other in found if other is not each]
                changed = with_changes(prover.space.order_set, [*others, wider])
                assert not are_kept(rules, changed)
        return
    by_path = {}
    for each in narrowings.values():
        by_path.setdefault(each.path, []).append(each)
    assert not narrowings or any(
        leaves_nothing(functools.reduce(functools.partial(intersection, slots[path]), made))
        for path, made in by_path.items()
    )


def with_changes(order_set, narrowings):
    for each in narrowings:
        order_set = apply(order_set, each)
    return order_set


def given_back(slot, narrowing):
    """The narrowing with one more option."""
    for gone in set(range(len(slot.options))) - set(narrowing.kept):
        yield replace(narrowing, kept=tuple(sorted({*narrowing.kept, gone})))


def are_kept(rules, order_set):
    orders = list(every_order(order_set))
    return all(is_kept(rule, orders) for rule in rules)


@most(40)
@given(sets_and_rules())
def test_narrowings_are_the_widest_there_are(drawn):
    narrowings_are_right(drawn)


@pytest.mark.parametrize(
    ("limit", "ends"),
    [(6, (0, 3)), (4, (0, 3)), (3, (0, 0))],
)
def test_what_is_kept_of_a_blank_ends_at_what_can_be_written_in_its_first_unit(limit, ends):
    """As that is how a narrowing is said; the ends themselves are then proved."""
    slot = Slot("pause.lower", (), None, Span(-1, 7, {"mmHg": 3, "cmH2O": 2}))
    rule = rule_of("low", Compare((Term(1, (slot.path,)),), "<", limit))
    prover = Prover(set_of([slot]), [rule])
    (found,) = narrowings_of(prover, rule, prover.decide(rule).witness)[0]
    assert (found.span.lowest, found.span.highest) == ends


@pytest.mark.parametrize("highest", [4, 5])
def test_a_bad_value_beyond_what_can_be_written_in_the_first_unit_takes_nothing_away(highest):
    slot = Slot("pause.lower", (), None, Span(0, highest, {"mmHg": 3, "cmH2O": 2}))
    unit = Slot("display_unit", (Leaf("display_unit", State.KNOWN, "mmHg"),), None)
    rule = rule_of("one-unit", Same(Subject("display_unit", False), Subject(slot.path, True)))
    prover = Prover(set_of([slot, unit]), [rule])
    (found,) = narrowings_of(prover, rule, prover.decide(rule).witness)[0]
    assert (found.span.lowest, found.span.highest) == (3, 3)


def test_of_a_blank_nothing_is_kept_where_its_first_unit_has_no_value_left():
    slot = Slot("pause.lower", (), None, Span(1, 7, {"mmHg": 3, "cmH2O": 2}))
    rule = rule_of("low", Compare((Term(1, (slot.path,)),), "<", 3))
    prover = Prover(set_of([slot]), [rule])
    assert narrowings_of(prover, rule, prover.decide(rule).witness)[0] == ()


@pytest.mark.deep
@settings(max_examples=2_000)
@given(sets_and_rules(most=4))
def test_on_thousands_of_sets(drawn):
    choices_are_right(drawn)
    count_is_right(drawn[0])
    narrowings_are_right(drawn)
