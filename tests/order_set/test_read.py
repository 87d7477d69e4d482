"""A well-written set: its slots, sections and gates, and the orders that picks make of it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from each_case import of_each
from order_sets import EXAMPLES, HEAD, example, order_set, slot, texts, whole

from orderlint.fields import CHECKED_AT, field_table
from orderlint.finding import Place
from orderlint.language.tree import atoms, paths_of
from orderlint.leaf_reader import read_leaf
from orderlint.order import OPTIONAL_SIGNING_FIELDS, SIGNING_FIELDS, Leaf, State
from orderlint.order_reader import read_order
from orderlint.order_set.model import order_of, preset_picks, within
from orderlint.order_set.read import SECTION_KEYS
from orderlint.order_set.slot_reader import FORMS, SHOWN_WHEN, TO_BE_WRITTEN, blank_slot
from orderlint.reading import read
from orderlint.reading.node import Scalar
from orderlint.rulebook.load import load

FIELDS = field_table().fields


@of_each(
    ("entry", "options", "preset"),
    [
        ("treat_above: 8 mmHg", ["8 mmHg"], 0),
        ("treat_above: {fixed: 8 mmHg}", ["8 mmHg"], 0),
        ("treat_above: {fixed: 8 mmHg, shown_when: drains}", ["8 mmHg"], 0),
        ("treat_above: {choose: [8 mmHg, 10 mmHg], preset: 10 mmHg}", ["8 mmHg", "10 mmHg"], 1),
        ("treat_above: {choose: [8 mmHg, 10 mmHg]}", ["8 mmHg", "10 mmHg"], None),
        ("treat_above: {choose: [8 mmHg, 10 mmHg], preset: 10.0 mmHg}", ["8 mmHg", "10 mmHg"], 1),
        (
            "treat_above: {from: -1 mmHg, to: 1 mmHg, step: 0.5 mmHg, preset: 0 mmHg}",
            ["-1 mmHg", "-0.5 mmHg", "0 mmHg", "0.5 mmHg", "1 mmHg"],
            2,
        ),
        (
            "irrigation: {rate: {from: 10.0 mL/hr, to: 30mL/h, step: 10 mL/h}}",
            ["10.0 mL/hr", "20 mL/hr", "30mL/h"],
            None,
        ),
        ("treat_above: {from: 8 mmHg, to: 8 mmHg, step: 1 mmHg}", ["8 mmHg"], None),
        ("therapy: {choose: [drainage, monitoring]}", ["drainage", "monitoring"], None),
        ("access: {blank: required, label: Site}", [*FIELDS["access"].choices], None),
        ("access: {blank: optional, label: Site}", ["", *FIELDS["access"].choices], 0),
        ("indication: {blank: required, label: Why}", [TO_BE_WRITTEN], None),
        ("indication: {blank: optional, label: Why}", ["", TO_BE_WRITTEN], 0),
        # A zone is read against a list of names: one of them stands for all.
        ("zone: {blank: required, label: Where}", ["America/Chicago"], None),
        ("treat_above: {blank: required, label: T}", [], None),
        ("treat_above: {blank: optional, label: T}", [""], 0),
        (
            "treat_above: {blank: required, label: T, from: 8 mmHg, to: 9 mmHg, step: 1 mmHg}",
            ["8 mmHg", "9 mmHg"],
            None,
        ),
        (
            "treat_above: {blank: optional, label: T, from: 8 mmHg, to: 9 mmHg, step: 1 mmHg}",
            ["", "8 mmHg", "9 mmHg"],
            0,
        ),
    ],
)
def test_an_entry_is_a_slot(entry, options, preset):
    made = order_set(entry)
    read = next(iter(made.slots.values()))
    assert (made.faults, texts(read), read.preset) == ((), options, preset)
    assert read.place is not None
    assert all(leaf.path == read.path and leaf.place for leaf in read.options)


def test_an_option_keeps_text_unit_flags_and_place():
    (first, second) = slot("irrigation: {rate: {choose: [60.0 cc/hr, 1 mL/min]}}").options
    assert (first.value, first.unit, first.text) == (60_000, "mL/h", "60.0 cc/hr")
    assert first.flags == {"trailing zero", "unit spelling"}
    assert second.place == Place("set.yaml", 10, 44)
    assert (second.value, second.unit) == (60_000, "mL/min")


def test_options_in_steps_are_exact_and_read_as_any_written_value():
    """The ticks of each option against fractions: 1 mmHg is 13,595,100 ticks (13.5951 g/mL)."""
    made = slot("pause: {upper: {from: 1.1 mmHg, to: 4.1 mmHg, step: 0.1 mmHg}}")
    numbers = [Fraction(leaf.text.removesuffix(" mmHg")) for leaf in made.options]
    assert numbers == [Fraction(n, 10) for n in range(11, 42)]
    assert [leaf.value for leaf in made.options] == [n * 13_595_100 for n in numbers]
    assert made.step == 1_359_510


@pytest.mark.parametrize("entry", ["blank: required", "blank: optional"])
def test_a_blank_that_nothing_bounds_spans_all_that_can_be_written(entry):
    span = slot(f"drainage: {{height: {{{entry}, label: Height}}}}").span
    height = FIELDS["drainage.height"]
    assert (span.lowest, span.highest) == (height.lowest, height.highest)
    # Two decimals in mmHg, seven in cmH2O, of 13,595,100 and 10,000,000 ticks.
    assert span.grids == {"mmHg": 135_951, "cmH2O": 1}


@of_each("path", [p for p, field in FIELDS.items() if field.kind == "quantity"])
def test_the_finest_number_that_reads_is_one_step_of_its_grid(path):
    blank = blank_slot(FIELDS[path], None)
    assert set(blank.span.grids) == set(FIELDS[path].decimals)
    for unit, decimals in FIELDS[path].decimals.items():
        finest = f"{Decimal(1).scaleb(-decimals):f} {unit}"
        judged = read_leaf(FIELDS[path], Scalar(finest, finest, "text", Place("f", 1, 1)))
        assert judged.leaf.value == blank.span.grids[unit]


def test_an_instant_and_a_count_have_one_grid():
    assert slot("starts: {blank: required, label: From}").span.grids == {"": 1}
    assert slot("revision: {blank: required, label: R}").span.grids == {"": 1}


def test_facts_of_signing_are_required_blanks_unless_the_set_speaks_of_them():
    made = order_set("prescriber: attending\nstatus:\nstarts: {blank: required, label: From}")
    signed = {path for path, read in made.slots.items() if read.signed}
    assert signed == SIGNING_FIELDS - {"prescriber"} - OPTIONAL_SIGNING_FIELDS
    assert all(made.slots[path].preset is None for path in signed)
    assert texts(made.slots["status"]) == ["draft", "active", "ended"]
    assert made.slots["prescriber"].preset == 0
    # A zone may be written when an order is signed, and left out.
    assert [leaf.given for leaf in made.slots["zone"].options] == [False, True]
    assert made.slots["zone"].preset == 0


def test_what_the_set_does_not_speak_of_is_absent():
    made = order_set("treat_above: 8 mmHg\npause:\nirrigation: {rate: }")
    assert set(made.slots) == set(FIELDS)
    for path, at in made.slots.items():
        if path not in {"treat_above", *SIGNING_FIELDS}:
            assert (at.options, at.preset) == ((Leaf(path),), 0)


def test_the_set_s_own_leaves_come_first_in_the_order_of_the_document():
    made = order_set("treat_above: 8 mmHg\npause: {upper: 22 mmHg}\naccess: lumbar")
    assert [*made.slots][:3] == ["treat_above", "pause.upper", "access"]


def test_an_additive_is_one_word_or_a_section():
    word = order_set("irrigation: {additive: {choose: [none], preset: none}}")
    assert texts(word.slots["irrigation.additive"]) == ["none"]
    group = order_set(
        "irrigation: {additive: {offered: {preset: out}, shown_when: irrigates, class: contrast}}"
    )
    assert group.faults == ()
    assert texts(group.slots["irrigation.additive"]) == [""]
    assert texts(group.slots["irrigation.additive.class"]) == ["contrast"]
    assert (
        [*group.offered_sections] == [gate.path for gate in group.gates] == ["irrigation.additive"]
    )


def test_a_section_that_is_offered_is_a_tick():
    made = order_set("titration: {offered: {preset: in}, goal: clear}\npause: {lower: 2 mmHg}")
    assert {path: each.preset for path, each in made.offered_sections.items()} == {
        "titration": True
    }
    assert made.offered_sections["titration"].place == Place("set.yaml", 10, 24)


def test_gates_stand_after_those_that_hide_what_they_read():
    made = order_set(
        "stop_when: {fixed: x, shown_when: given(titration.goal)}\n"
        "titration: {shown_when: given(position), goal: clear}\n"
        "position: {shown_when: irrigates, head_up: 30 deg}\n"
        "instructions: {fixed: x, shown_when: irrigates}"
    )
    assert made.faults == ()
    paths = [gate.path for gate in made.gates]
    assert paths == ["position", "titration", "stop_when", "instructions"]
    for index, gate in enumerate(made.gates):
        read = {path for atom in atoms(gate.tree) for path in paths_of(atom)}
        later = [other.path for other in made.gates[index:]]
        assert not any(within(path, other) for path in read for other in later)


def test_a_set_yields_orders():
    made = order_set(
        "therapy: {choose: [drainage, irrigation]}\n"
        "irrigation: {shown_when: irrigates, rate: 60 mL/h}\n"
        "titration: {shown_when: given(irrigation.rate), offered: {preset: out}, goal: clear}"
    )
    picked, sections_on = preset_picks(made)
    drainage, irrigation = made.slots["therapy"].options
    given = {}
    for therapy in (drainage, irrigation):
        for taken in (False, True):
            leaves = order_of(made, {**picked, "therapy": therapy}, {"titration": taken})
            given[therapy.text, taken] = [
                path for path, leaf in leaves.items() if leaf.given and path not in SIGNING_FIELDS
            ]
    assert given == {
        ("drainage", False): ["therapy"],
        ("drainage", True): ["therapy"],
        ("irrigation", False): ["therapy", "irrigation.rate"],
        ("irrigation", True): ["therapy", "irrigation.rate", "titration.goal"],
    }
    assert sections_on == {"titration": False}


def test_a_set_of_fixed_values_yields_the_order_that_says_the_same():
    text = (EXAMPLES / "clean.yaml").read_text(encoding="utf-8")
    order = read_order(read(text.encode(), "order.yaml", "order"))
    entries = "".join(f"  {line}\n" for line in text.splitlines() if line[:3] not in {"doc", "for"})
    made = order_of(fixed := whole(HEAD + entries), *preset_picks(fixed))
    for path in FIELDS.keys() - {"document", "format"}:
        assert (made[path].state, made[path].value, made[path].text) == (
            order.leaves[path].state,
            order.leaves[path].value,
            order.leaves[path].text,
        )


def test_places_of_leaves_and_sections():
    made = order_set("pause: {lower: 2 mmHg}\ntreat_above: {choose: [8 mmHg]}")
    assert made.place_of("pause.lower") == Place("set.yaml", 10, 18)
    assert made.place_of("pause.upper") == made.place_of("pause") == Place("set.yaml", 10, 10)
    assert made.place_of("notify.call") == Place("set.yaml", 10, 3)
    assert made.place_of("title") == Place("set.yaml", 3, 8)


def test_the_head_is_kept_as_written():
    made = whole(HEAD.replace("population: adult", "population: [Adult, infant]") + "  therapy:\n")
    assert made.head == {
        "title": "an invented set",
        "population": "adult, infant",
        "version": "1",
        "owner": "an invented committee",
        "approved": "2026-02-01",
        "review_due": "2027-02-01",
    }


def test_json_says_the_same():
    text = (
        '{"document": "order-set", "format": 1, "population": ["adult"], "order": '
        '{"treat_above": {"choose": ["8 mmHg"], "shown_when": "drains"}}}'
    )
    made = whole(text, "set.json")
    assert texts(made.slots["treat_above"]) == ["8 mmHg"]
    assert [gate.path for gate in made.gates] == ["treat_above"]


def test_no_setting_has_a_key_of_an_entry_or_a_section():
    own = {SHOWN_WHEN, *SECTION_KEYS, *(key for keys in FORMS.values() for key in keys)}
    # Only of an additive it has to be told by its keys whether it is an entry or a section.
    assert field_table().section_names.keys() & FIELDS.keys() == {"irrigation.additive"}
    assert not own & {
        path.rpartition(".")[2] for path in field_table().sections["irrigation.additive"]
    }
    assert not {*SECTION_KEYS} & {path.rpartition(".")[2] for path in FIELDS}


def test_no_fact_of_the_rulebook_reads_the_clock_or_a_fact_of_signing():
    from orderlint.rulebook.instantiate import names_in  # noqa: PLC0415

    derived = load("all").derived
    read = {name.path for fact in derived.values() for name in names_in(fact, {})}
    assert not read & {CHECKED_AT, *SIGNING_FIELDS}


@pytest.mark.parametrize("name", [path.name for path in sorted(EXAMPLES.glob("set-*.yaml"))])
def test_an_example_is_a_realistic_template(name):
    made = example(name)
    spoken = [p for p, read in made.slots.items() if read.place and read.options != (Leaf(p),)]
    assert len(spoken) >= 20
    assert made.unsettled == ()
    assert all(leaf.state is not State.UNREADABLE for p in spoken for leaf in made.slots[p].options)
