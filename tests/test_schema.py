"""The order schema: strict by a meta-schema of its own, worded throughout, true of an order."""

from __future__ import annotations

import copy
import json
from datetime import datetime
from pathlib import Path

import core_yaml
import pytest
from each_case import of_each
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from walking import order_leaves, order_sections, schema_leaves, schema_nodes

from orderlint.fields import load_schema

HERE = Path(__file__).parent
SCHEMA = load_schema("order")
META = Draft202012Validator(
    json.loads((HERE / "schemas/strict-meta.schema.json").read_text(encoding="utf-8"))
)
ORDER = Draft202012Validator(SCHEMA)
CLEAN = core_yaml.load_file(HERE.parent / "examples/clean.yaml")
NODES = dict(schema_nodes(SCHEMA))
LEAVES = schema_leaves(SCHEMA)

ACRONYMS = {"ICP", "CPP", "MAP"}


def alone(node):
    return Draft202012Validator({**node, "$defs": SCHEMA["$defs"]})


def test_schema_is_a_json_schema_and_a_strict_one():
    Draft202012Validator.check_schema(META.schema)
    Draft202012Validator.check_schema(SCHEMA)
    assert [error.message for error in META.iter_errors(SCHEMA)] == []


def strictly(kind):
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": META.schema["$defs"]})


def misspellings(node):
    for keyword in node:
        rest = {key: value for key, value in node.items() if key != keyword}
        yield {**rest, f"{keyword}s": node[keyword]}


@of_each("path", NODES)
def test_a_misspelt_keyword_is_caught(path):
    field = strictly("field")
    assert field.is_valid(NODES[path])
    assert not any(map(field.is_valid, misspellings(NODES[path])))


@pytest.mark.parametrize("name", SCHEMA["$defs"])
def test_a_misspelt_annotation_of_a_kind_is_caught(name):
    kind = strictly("kind")
    assert kind.is_valid(SCHEMA["$defs"][name])
    assert not any(map(kind.is_valid, misspellings(SCHEMA["$defs"][name])))


def test_a_misspelling_deep_in_the_schema_is_caught():
    planted = copy.deepcopy(SCHEMA)
    name = planted["properties"]["irrigation"]["properties"]["additive"]["then"]["properties"][
        "name"
    ]
    name["desciption"] = name["description"]
    assert not META.is_valid(planted)
    assert not any(map(META.is_valid, misspellings(SCHEMA)))


@pytest.mark.parametrize(
    ("keyword", "wrong"),
    [
        ("dimension", "presure"),
        ("lowest", -200),
        ("highest", "200"),
        ("decimals", {"mmHg": "2"}),
        ("decimals", 2),
    ],
)
def test_an_annotation_of_the_wrong_type_is_caught(keyword, wrong):
    planted = copy.deepcopy(SCHEMA)
    planted["$defs"]["pressure"][keyword] = wrong
    assert not META.is_valid(planted)


def test_every_section_is_closed():
    sections = [node.get("then", node) for node in NODES.values()]
    closed = [node["additionalProperties"] for node in sections if "properties" in node]
    assert len(closed) == len(order_sections(CLEAN)) - 1 + len(["irrigation.additive"])
    assert not any(closed)


@of_each("path", NODES)
def test_words(path):
    title, description = NODES[path]["title"], NODES[path]["description"]
    proper = {word for word in title.replace("-", " ").split()[1:] if not word.islower()}
    assert proper <= ACRONYMS, "a title is in sentence case"
    assert description.rstrip(".").casefold() != title.casefold()
    assert description.count(". ") <= 1, "one or two sentences"


def test_no_two_fields_share_a_name_or_a_description():
    for words in ("title", "description"):
        said = [node[words] for node in LEAVES.values()]
        assert len(set(said)) == len(said)


def test_the_schema_says_that_it_defers():
    for word in ("decision support", "prescriber", "pharmacy", "manufacturer", "local policy"):
        assert word in SCHEMA["description"]


@of_each("path", LEAVES)
def test_each_example_is_good_and_the_one_of_the_clean_order(path):
    (example,) = LEAVES[path]["examples"]
    assert alone(LEAVES[path]).is_valid(example)
    assert example == order_leaves(CLEAN).get(path, example)


@of_each("path", LEAVES)
def test_a_list_or_nothing_is_no_leaf(path):
    assert not alone(LEAVES[path]).is_valid([LEAVES[path]["examples"][0]])
    assert not alone(LEAVES[path]).is_valid(None)


def test_the_clean_order_is_valid():
    assert [error.message for error in ORDER.iter_errors(CLEAN)] == []


def test_the_clean_order_has_every_leaf_but_those_of_an_additive():
    below = "irrigation.additive."
    assert {path for path in LEAVES if not path.startswith(below)} == set(order_leaves(CLEAN))


def test_words_that_look_like_truth_stay_words():
    """YAML 1.2.2, section 10.3.2: only true and false are truth values."""
    assert CLEAN["monitoring"]["alarms"] == "on"
    assert CLEAN["transport"]["irrigation"] == "off"
    assert CLEAN["start_checks"]["imaging"] == "yes"
    assert core_yaml.load("alarms: true") == {"alarms": True}


@given(path=st.sampled_from(sorted(order_sections(CLEAN))), key=st.text(min_size=1))
def test_an_unknown_key_is_not_valid_anywhere(path, key):
    planted = copy.deepcopy(CLEAN)
    section = order_sections(planted)[path]
    known = key in section
    section.setdefault(key, "1 h")
    assert ORDER.is_valid(planted) == known


@of_each("path", [path for path in order_leaves(CLEAN) if path.count(".")])
def test_any_part_may_be_missing(path):
    planted = copy.deepcopy(CLEAN)
    section, _, key = path.rpartition(".")
    del order_sections(planted)[section][key]
    assert ORDER.is_valid(planted)


def test_only_document_and_format_are_required():
    assert ORDER.is_valid({"document": "order", "format": 1})
    assert not ORDER.is_valid({"document": "order"})
    assert not ORDER.is_valid({"format": 1})
    assert not ORDER.is_valid({"document": "order-set", "format": 1})


@pytest.mark.parametrize("kind", ["yes_no", "on_off"])
@pytest.mark.parametrize("truth", ["yes", "no", "on", "off", "true", "false", True, False])
def test_a_truth_value_may_be_written_either_way(kind, truth):
    assert alone(SCHEMA["$defs"][kind]).is_valid(truth)


@pytest.mark.parametrize(
    ("additive", "valid"),
    [
        ("none", True),
        ({}, True),
        ({"name": "example antibiotic", "concentration": "10 mg/L"}, True),
        ({"class": "thrombolytic"}, True),
        ({"class": "vitamin"}, False),
        ({"dose": "10 mg"}, False),
        ("example antibiotic", False),
        (False, False),
    ],
)
def test_an_additive_is_none_or_a_section(additive, valid):
    order = copy.deepcopy(CLEAN)
    order["irrigation"]["additive"] = additive
    assert ORDER.is_valid(order) == valid


def test_instants_are_of_rfc_3339_with_an_offset():
    """RFC 3339, section 5.6, which the format date-time names."""
    instants = [
        node["examples"][0] for node in LEAVES.values() if "instant" in str(node.get("$ref"))
    ]
    assert len(instants) == 3
    assert all(datetime.fromisoformat(instant).tzinfo for instant in instants)
