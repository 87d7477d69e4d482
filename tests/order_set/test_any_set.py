"""What holds of every order set, however it is written."""

from __future__ import annotations

from copy import deepcopy

from drawing import most
from hypothesis import given
from hypothesis import strategies as st
from order_sets import AT
from set_texts import sets
from texts import as_json, as_yaml

from orderlint.assessment import findings_of_faults
from orderlint.fields import field_table
from orderlint.finding import Refused
from orderlint.language.tree import atoms, paths_of
from orderlint.order import SIGNING_FIELDS, Leaf, State
from orderlint.order_set.model import order_of, preset_order, within
from orderlint.order_set.read import read_order_set
from orderlint.order_set.static_checks import set_faults
from orderlint.reading import read
from orderlint.rulebook.load import load
from orderlint.verification import verify_order

MORE = most(60)
RULES = load("order-set")
FIELDS = field_table().fields


def as_read(data, file="set.yaml"):
    return read_order_set(read(data, file, "order-set"), RULES.derived)


@MORE
@given(sets(odd=True).map(deepcopy))
def test_what_is_read_can_be_picked_from_verified_and_put_in_words(data):
    made = as_read(as_yaml(data))
    assert set(made.slots) == set(FIELDS)
    for path, slot in made.slots.items():
        assert slot.path == path
        assert slot.options or slot.span
        assert slot.preset is None or 0 <= slot.preset < len(slot.options)
        assert all(leaf.path == path for leaf in slot.options)
    filled = preset_order(made)
    verify_order(filled, AT, RULES)
    faults = (*made.faults, *set_faults(made, RULES, AT))
    assert all(fault in made.faults for fault in made.unsettled)
    for finding in findings_of_faults(faults, filled, RULES):
        assert "{" not in finding.says + finding.expected + finding.ask
        assert (finding.place.line, finding.place.column) >= (1, 1)


@MORE
@given(sets(odd=True).map(deepcopy))
def test_gates_can_be_judged_one_after_another(data):
    gates = as_read(as_yaml(data)).gates
    for index, gate in enumerate(gates):
        read_by = {path for atom in atoms(gate.tree) for path in paths_of(atom)}
        assert not any(within(p, later.path) for p in read_by for later in gates[index:])


@MORE
@given(sets(odd=True).map(deepcopy))
def test_yaml_and_json_say_the_same(data):
    yaml, json = as_read(as_yaml(data)), as_read(as_json(data), "set.json")

    def said(made):
        faults = sorted((f.rule, f.path, f.written) for f in made.faults)
        options = {
            p: [(o.state, o.value, o.unit) for o in s.options] for p, s in made.slots.items()
        }
        presets = {path: each.preset for path, each in made.offered_sections.items()}
        return faults, options, presets, len(made.unsettled)

    assert said(yaml) == said(json)


@MORE
@given(sets(odd=False).map(deepcopy), st.randoms())
def test_a_set_without_faults_yields_whole_orders(data, chance):
    made = as_read(as_yaml(data))
    assert {fault.rule for fault in made.unsettled} <= {"shown-when-cycle"}
    picked = {
        path: chance.choice(slot.options) if slot.options else Leaf(path, State.KNOWN, 0, None, "0")
        for path, slot in made.slots.items()
    }
    sections_on = {path: chance.random() < 0.5 for path in made.offered_sections}
    leaves = order_of(made, picked, sections_on)
    assert set(leaves) == set(FIELDS)
    for path, leaf in leaves.items():
        assert leaf in (picked[path], Leaf(path))
        if leaf is picked[path] and leaf.given:
            assert all(sections_on[section] for section in sections_on if within(path, section))
    assert {path for path, slot in made.slots.items() if slot.signed} <= SIGNING_FIELDS


@MORE
@given(
    st.one_of(st.binary(max_size=300), sets(odd=True).map(deepcopy).map(as_yaml)),
    st.data(),
)
def test_no_bytes_make_a_traceback(data, draw):
    for _ in range(draw.draw(st.integers(0, 3))):
        at = draw.draw(st.integers(0, max(len(data) - 1, 0)))
        skipped = draw.draw(st.integers(0, 2))
        data = data[:at] + draw.draw(st.binary(max_size=3)) + data[at + skipped :]
    try:
        made = as_read(data)
    except Refused:
        return
    set_faults(made, RULES, AT)
    preset_order(made)
