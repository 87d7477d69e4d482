"""What holds of every order set that is written as a Questionnaire, however it is drawn."""

from __future__ import annotations

import json
from contextlib import suppress
from copy import deepcopy

from drawing import most
from drawn_forms import forms
from hypothesis import given
from hypothesis import strategies as st
from questionnaire_forms import set_of, yaml_of
from set_texts import sets
from texts import as_yaml

from orderlint.fhir.questionnaire.writing import questionnaire_text
from orderlint.finding import Refused
from orderlint.order import Leaf, State
from orderlint.order_set.model import order_of
from orderlint.order_set.read import read_order_set
from orderlint.reading import read
from orderlint.rulebook.load import load

DERIVED = load("order-set").derived
NO_PLACE = "place in a Questionnaire"


def as_document(data):
    return read(as_yaml(data), "set.yaml", "order-set")


def as_form(document):
    """The Questionnaire of a set; None where it is refused, which says so."""
    try:
        return json.loads(questionnaire_text(document))
    except Refused as error:
        refusal = error
    assert NO_PLACE in refusal.message
    assert refusal.place.file == "set.yaml"
    return None


def bare(leaf):
    return leaf.path, leaf.state, leaf.value, leaf.unit, leaf.text.strip(), leaf.flags


def offers(order_set):
    """What a form offers for each setting."""
    return {
        path: (
            [bare(option) for option in slot.options],
            (slot.preset, slot.span, slot.label, slot.blank, slot.step, slot.signed),
        )
        for path, slot in order_set.slots.items()
    }


def faults(order_set):
    return sorted((fault.rule, fault.path, fault.written) for fault in order_set.faults)


def orders_are_the_same(before, after, chance):
    """Whether the same picks make the same order of both sets."""
    for _ in range(10):
        numbers = {
            path: chance.randrange(len(slot.options)) if slot.options else None
            for path, slot in before.slots.items()
        }
        taken = {path: chance.random() < 0.7 for path in before.offered_sections}
        first, second = (
            order_of(made, {p: _picked(made.slots[p], n) for p, n in numbers.items()}, taken)
            for made in (before, after)
        )
        if any(bare(first[path]) != bare(second[path]) for path in first):
            return False
    return True


def _picked(slot, number):
    if number is None:
        return Leaf(slot.path, State.KNOWN, 0, None, "0")
    return slot.options[number]


@most(30)
@given(st.one_of(forms(), forms(), sets(odd=False)).map(deepcopy), st.randoms())
def test_the_set_that_comes_back_offers_the_same(data, chance):
    document = as_document(data)
    form = as_form(document)
    if form is None:
        return
    before = read_order_set(document, DERIVED)
    by_yaml = read(yaml_of(form).encode(), "back.yaml", "order-set")
    for after in (set_of(form), read_order_set(by_yaml, DERIVED)):
        assert after.unsettled == ()
        assert offers(after) == offers(before)
        assert after.head == before.head
        assert {p: s.preset for p, s in after.offered_sections.items()} == {
            p: s.preset for p, s in before.offered_sections.items()
        }
        assert orders_are_the_same(before, after, chance)


@most(30)
@given(sets(odd=True).map(deepcopy))
def test_an_odd_set_is_refused_or_comes_back_with_its_faults(data):
    document = as_document(data)
    form = as_form(document)
    if form is None:
        return
    before, after = read_order_set(document, DERIVED), set_of(form)
    assert before.unsettled == after.unsettled == ()
    assert offers(after) == offers(before)
    assert faults(after) == faults(before)


@most(30)
@given(forms().map(deepcopy), st.data())
def test_no_change_of_a_questionnaire_makes_a_traceback(data, draw):
    form = as_form(as_document(data))
    if form is None:
        return
    text = json.dumps(form)
    for _ in range(draw.draw(st.integers(1, 3))):
        at = draw.draw(st.integers(0, len(text) - 1))
        text = text[:at] + draw.draw(st.sampled_from(ODD_PIECES)) + text[at + 1 :]
    for read_it in (set_of, yaml_of):
        with suppress(Refused):
            assert read_it(text)


ODD_PIECES = ["", "0", '"', "x", "[]", "{}", '{"', "null", "true", ",", ":", "[", "]"]
