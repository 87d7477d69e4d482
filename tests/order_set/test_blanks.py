"""What can be written in a blank is what the reader of an order reads, no less."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from texts import good

from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.leaf_reader import read_leaf
from orderlint.order_set.slot_reader import blank_slot
from orderlint.proof.set_membership import allowed_at
from orderlint.reading.node import Scalar

HERE = Place("set.yaml", 1, 1)
FILLED_IN = [
    field
    for field in field_table().fields.values()
    if field.path not in {"document", "format"} and not field.section_keys
]


def read_in(field, text):
    return read_leaf(field, Scalar(text, text, "text", HERE)).leaf


@given(st.sampled_from(FILLED_IN).flatmap(lambda f: st.tuples(st.just(f), good(f))))
def test_whatever_reads_plainly_can_stand_in_a_blank(drawn):
    field, text = drawn
    leaf = read_in(field, str(text))
    if leaf.known and not leaf.flags:
        assert allowed_at(blank_slot(field, HERE))(leaf)


@pytest.mark.parametrize("field", FILLED_IN, ids=lambda field: field.path)
def test_every_unit_choice_and_end_of_a_range_can_stand_in_a_blank(field):
    slot = blank_slot(field, HERE, required=False)
    assert not slot.options[0].given
    for choice in {*field.choices, *field.spellings.values()}:
        assert allowed_at(slot)(read_in(field, choice))
    for unit in field.decimals:
        for number in ("0", "1", f"0.{'3' * field.decimals[unit]}"):
            leaf = read_in(field, f"{number} {unit}")
            assert leaf.known
            assert allowed_at(slot)(leaf)
    if slot.span is not None:
        assert (slot.span.lowest, slot.span.highest) == (field.lowest, field.highest)


def test_any_text_is_some_fluid():
    field = field_table().fields["irrigation.fluid"]
    for text in ("half-strength saline", "Glycine 1.5 %", "other", "to be written"):
        assert allowed_at(blank_slot(field, HERE))(read_in(field, text))
