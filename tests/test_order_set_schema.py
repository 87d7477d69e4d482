"""The schema of order sets: made anew from that of orders, worded throughout, true of sets.

An editor helps by it; the tool itself reads a set with line and column. The two agree on keys.
"""

from __future__ import annotations

import core_yaml
import order_set_schema
import pytest
from drawing import most
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from order_sets import EXAMPLES, HEAD, order_set, whole
from set_texts import ODD_CONDITIONS, ODD_LIMITS, sets
from texts import as_yaml

from orderlint.fields import field_table, load_schema
from orderlint.order_set.head import FACTS, TOP_KEYS
from orderlint.order_set.read import PRESET_WORDS, SECTION_KEYS
from orderlint.order_set.slot_reader import BLANK, FORMS, LIMITS, SHOWN_WHEN
from orderlint.order_set.steps import MOST_OPTIONS

SCHEMA = load_schema("order-set")
SETS = Draft202012Validator(SCHEMA)
SHIPPED = sorted(EXAMPLES.glob("set-*.yaml"))
TABLE = field_table()
# JSON Schema lets a misspelt keyword pass; this is all that is used here.
KEYWORDS = {
    *("$schema", "$ref", "$defs", "title", "description", "type", "const", "enum", "examples"),
    *("required", "properties", "additionalProperties", "propertyNames", "items", "pattern"),
    *("minItems", "maxItems", "minLength", "minProperties", "dependentRequired"),
    *("if", "then", "else", "not"),
}


def nodes(node, is_named=False):
    """Every schema in the schema, and whether it is of a named thing."""
    if not isinstance(node, dict):
        return
    yield node, is_named
    for key in ("properties", "$defs"):
        for child in node.get(key, {}).values():
            yield from nodes(child, key == "properties")
    for key in ("items", "additionalProperties", "if", "then", "else", "propertyNames", "not"):
        yield from nodes(node.get(key), False)


def test_it_is_the_one_that_the_schema_of_orders_makes_now():
    """If not: python tests/order_set_schema.py."""
    assert order_set_schema.WRITTEN.read_text(encoding="utf-8") == order_set_schema.text()


def test_it_is_a_schema_of_known_keywords():
    Draft202012Validator.check_schema(SCHEMA)
    for node, _ in nodes(SCHEMA):
        assert set(node) <= KEYWORDS, node


def test_every_key_of_a_set_has_a_title_and_a_description():
    named = [node for node, is_named in nodes(SCHEMA) if is_named]
    assert len(named) > 150
    for node in named:
        only = node["$ref"].removeprefix("#/$defs/") if set(node) == {"$ref"} else None
        worded = SCHEMA["$defs"][only] if only else node
        assert worded["title"][0].isupper(), node
        assert worded["description"].endswith("."), node


def test_no_object_is_told_from_another_by_trying():
    assert "anyOf" not in order_set_schema.text()
    assert "oneOf" not in order_set_schema.text()


def leaves_of(node, path=""):
    """Every leaf and section under a section of the order's tree, by path."""
    for key, child in node["properties"].items():
        if key in SECTION_KEYS:
            continue
        below = f"{path}{key}"
        section = child if "properties" in child else child["then"].get("then", child)
        if "if" in child:
            yield below, child
        if "properties" in section:
            yield below, section
            yield from leaves_of(section, f"{below}.")


def test_its_keys_are_those_that_the_tool_reads():
    keys = {"document", "format", "id", "order", *FACTS}
    assert set(SCHEMA["properties"]) == set(TOP_KEYS) == keys
    found = {}
    for path, node in leaves_of(SCHEMA["properties"]["order"]):
        found.setdefault(path, []).append(node)
    assert set(found) == {*TABLE.fields, *TABLE.section_names} - {"document", "format"}
    assert {path for path, each in found.items() if len(each) == 2} == {"irrigation.additive"}
    for path, each in found.items():
        assert {node["title"] for node in each} == {TABLE.display_name(path)}
        for node in each:
            assert "if" in node or set(SECTION_KEYS) <= set(node["properties"])


@of_each("kind", [name for name in SCHEMA["$defs"] if name.startswith("entry_of")])
def test_the_keys_of_an_entry_are_those_that_the_tool_reads(kind):
    entry = SCHEMA["$defs"][kind]
    keys = {SHOWN_WHEN, LIMITS, *(key for allowed in FORMS.values() for key in allowed)}
    if entry["$ref"].endswith("other"):
        keys -= {"from", "to", "step"}
    assert set(entry["properties"]) == keys
    assert entry["properties"]["choose"]["maxItems"] == MOST_OPTIONS


def test_words_are_those_that_the_tool_reads():
    assert tuple(SCHEMA["$defs"]["blank"]["enum"]) == BLANK
    assert SCHEMA["$defs"]["offered"]["properties"]["preset"]["enum"] == [*PRESET_WORDS]
    forms = SCHEMA["$defs"]["form_of_quantity"]
    for form, keys in FORMS.items():
        allowed = forms.get("then", forms)
        forms = forms.get("else", {})
        assert set(allowed["propertyNames"]["enum"]) == {*keys, SHOWN_WHEN, LIMITS}, form


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_an_example_is_valid(path):
    assert [error.message for error in SETS.iter_errors(core_yaml.load_file(path))] == []


def test_an_order_is_not_a_set():
    assert not SETS.is_valid(core_yaml.load_file(EXAMPLES / "clean.yaml"))


@of_each(
    "entry",
    [
        "treat_above: {choose: [8 mmHg], from: 8 mmHg, to: 9 mmHg, step: 1 mmHg}",
        "treat_above: {fixed: 8 mmHg, choose: [8 mmHg]}",
        "treat_above: {fixed: 8 mmHg, preset: 8 mmHg}",
        "treat_above: {fixed: [8 mmHg]}",
        "treat_above: {blank: required, preset: 8 mmHg}",
        "treat_above: {blank: required, label: x, from: 8 mmHg, to: 9 mmHg}",
        "treat_above: {from: 8 mmHg, to: 9 mmHg}",
        "treat_above: {from: 8 mmHg, to: 9 mmHg, step: 1 mmHg, label: x}",
        "treat_above: {shown_when: drains}",
        "treat_above: {preset: 8 mmHg}",
        "treat_above: {}",
        "treat_above: [8 mmHg]",
        "access: {choose: []}",
        "access: {choose: lumbar}",
        "access: {choose: [lumbar], label: x}",
        "access: {choose: [lumbar], prest: lumbar}",
        "access: {blank: perhaps}",
        "access: {from: lumbar, to: other, step: 1}",
        "irrigation: {additive: {choose: [none], name: x}}",
        "irrigation: {additive: {nam: x}}",
        "titration: {offered: in}",
        "titration: {offered: {}}",
        "titration: {offered: {preset: yes}}",
        "titration: {offered: {preset: in, label: x}}",
        "titration: {shown_wen: drains}",
        "titration: {shown_when: [drains]}",
        "titration: {limits: {low: 8 mmHg}, goal: x}",
        "treat_above: {fixed: 8 mmHg, limits: {low: 8 mmHg}}",
        "titration: {shown_when: treat_above > low, limits: 8 mmHg, goal: x}",
        "titration: {shown_when: treat_above > low, limits: {}, goal: x}",
        "titration: {shown_when: treat_above > low, limits: {low: 8}, goal: x}",
        "titration: {shown_when: treat_above > low, limits: {Low: 8 mmHg}, goal: x}",
        "titration: {shown_when: treat_above > low, limits: {low: [8 mmHg]}, goal: x}",
        "pause: 22 mmHg",
        "pause: {uper: 22 mmHg}",
        "document: order",
        "shown_when: drains",
    ],
)
def test_what_the_schema_refuses_the_tool_does_not_understand(entry):
    assert not SETS.is_valid(core_yaml.load(f"{HEAD}  {entry}\n"))
    assert order_set(entry).unsettled


@pytest.mark.parametrize("population", ["grown-ups", "[adult, grown-ups]", "{of: adult}", "[[]]"])
def test_a_population_is_made_of_patient_groups(population):
    text = HEAD.replace("population: adult", f"population: {population}") + "  therapy: drainage\n"
    assert not SETS.is_valid(core_yaml.load(text))
    assert whole(text).faults


MORE = most(60)


@MORE
@given(sets(odd=False))
def test_what_the_tool_understands_is_valid(data):
    assert [error.message for error in SETS.iter_errors({**data, **FILLED})] == []


@MORE
@given(sets(odd=True), st.booleans())
def test_what_is_valid_has_no_fault_of_keys_or_kinds(data, with_head):
    data = {**data, **(FILLED if with_head else {})}
    if not SETS.is_valid(data):
        return
    for fault in whole(as_yaml(data).decode()).faults:
        is_told_by_reading = fault.written in _ODD or fault.path in _INSTANTS
        assert fault.rule not in {"key-not-known", "kind-not-expected"} or is_told_by_reading
        if fault.rule == "set-entry-not-understood":
            # What a schema cannot tell: how steps end, and what a condition and its limits say.
            is_condition = fault.written in [*ODD_CONDITIONS, *ODD_LIMITS]
            assert is_condition or fault.details["reason"].startswith(_OF_STEPS), fault


FILLED = {**core_yaml.load(HEAD), "document": "order-set"}
FILLED.pop("order")
_OF_STEPS = ("the steps do not reach", "to: is below", "this is in", "these are", "step: is more")
# A schema's `format: date-time` only describes; reading judges.
_INSTANTS = {path for path, field in field_table().fields.items() if field.kind == "instant"}
_ODD = {"text: with # marks", "<b>&amp;</b>", "yes", "none", "NS"}  # no number, where one belongs
