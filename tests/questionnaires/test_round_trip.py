"""An order set as a Questionnaire and back again: the same orders, the same review."""

from __future__ import annotations

import functools
from dataclasses import replace

import pytest
from order_sets import AT, EXAMPLES, example, reading, reviewed
from questionnaire_forms import SETS, set_of, written_set, yaml_of

from orderlint.comparison.sets import compare_sets
from orderlint.finding import Place
from orderlint.order_set.read import read_order_set
from orderlint.order_set.static_checks import set_faults
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.set_review import review_set

BOOK = load("order-set")
NOWHERE = Place("", 1, 1)


@functools.cache
def back(name, form):
    """The set of an example's Questionnaire, read as it is or by way of YAML."""
    made = written_set((EXAMPLES / name).read_bytes(), name)
    if form == "Questionnaire":
        return set_of(made)
    return read_order_set(read(yaml_of(made).encode(), "back.yaml", "order-set"), BOOK.derived)


def placeless(order_set):
    """All that a review looks at, but for where it is written."""
    leaf = {"place": None, "unsafe_notation": (), "mentions": ()}
    slots = {
        path: replace(slot, place=None, options=tuple(replace(o, **leaf) for o in slot.options))
        for path, slot in order_set.slots.items()
    }
    sections = {path: each.preset for path, each in order_set.offered_sections.items()}
    gates = [(gate.path, repr(gate.tree)) for gate in order_set.gates]
    return slots, sections, gates, order_set.head


def faults(order_set):
    found = (*order_set.faults, *set_faults(order_set, BOOK, AT))
    return sorted((f.rule, f.path, f.written, sorted(f.details.items()), f.spoils) for f in found)


def findings(found):
    return sorted(
        (item.rule, item.level, item.path, item.says, item.ask, item.written, item.about)
        for item in found.assessment.findings
    )


@pytest.mark.parametrize("form", ["Questionnaire", "YAML"])
@pytest.mark.parametrize("name", SETS)
def test_the_set_that_is_read_is_the_set_that_was_written(name, form):
    before, after = example(name), back(name, form)
    assert placeless(after) == placeless(before)
    assert faults(after) == faults(before)
    assert after.unsettled == ()


@pytest.mark.parametrize("name", SETS)
def test_every_place_is_in_the_questionnaire_with_its_element(name):
    after = back(name, "Questionnaire")
    places = [leaf.place for slot in after.slots.values() for leaf in slot.options if leaf.place]
    assert places
    assert all(
        p.file == "form.json" and p.element.startswith("Questionnaire.item[") for p in places
    )


@pytest.mark.parametrize(
    "name", ["set-irrigation-adult.yaml", *(pytest.param(n, marks=pytest.mark.deep) for n in SETS)]
)
def test_a_comparison_says_equal(name):
    few = reading("display_unit", book=BOOK)
    found = compare_sets(example(name), back(name, "Questionnaire"), AT, few)
    assert (found.option_changes, found.section_changes) == ((), ())
    same = compare_sets(example(name), example(name), AT, few)
    assert found.comparison.relation == same.comparison.relation
    # Of a set with so many blanks it is not said, beside itself either.
    assert (found.comparison.relation == "equal") == (name != SETS[0])


@pytest.mark.deep
@pytest.mark.parametrize("form", ["Questionnaire", "YAML"])
@pytest.mark.parametrize("name", SETS)
def test_a_review_is_that_of_the_set(name, form):
    before, after = reviewed(name), review_set(back(name, form), AT, BOOK)
    assert after.count == before.count
    assert findings(after) == findings(before)
    results = [[(proof.rule, proof.result) for proof in each.proofs] for each in (before, after)]
    assert results[0] == results[1]
    assert after.assessment.verdict is before.assessment.verdict
