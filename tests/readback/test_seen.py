"""Settings seen: their schema is the order's own, and they are read as an order is."""

from __future__ import annotations

from pathlib import Path

import core_yaml
import pytest
import seen_schema
from each_case import of_each
from jsonschema import Draft202012Validator

from orderlint.fields import field_table, load_schema
from orderlint.finding import Place
from orderlint.leaf_reader import read_leaf
from orderlint.readback.checklist import ADDITIVE, ADDITIVE_NAME, PATHS
from orderlint.readback.observed import judge_entry, nothing_seen, read_seen, with_entry
from orderlint.reading import read
from orderlint.reading.node import Scalar

FOLDER = Path(__file__).resolve().parents[2] / "examples"
PLACE = Place("entries", 1, 1)


def test_the_schema_is_made_from_that_of_orders_as_it_is_now():
    assert seen_schema.FILE.read_text(encoding="utf-8") == seen_schema.text()


def test_the_schema_is_one_and_its_settings_are_those_of_orders():
    Draft202012Validator.check_schema(load_schema("settings-seen"))
    assert {*PATHS} == {*field_table("settings-seen").fields} & {*field_table().fields} - {
        "document",
        "format",
    }


@pytest.mark.parametrize("file", sorted(FOLDER.glob("seen-*.yaml")), ids=lambda file: file.name)
def test_an_example_is_valid_and_has_no_fault(file):
    Draft202012Validator(load_schema("settings-seen")).validate(core_yaml.load_file(file))
    assert read_seen(read(file.read_bytes(), file.name, "settings-seen")).faults == ()


@of_each("path", [path for path in PATHS if path != ADDITIVE])
def test_an_entry_is_read_as_an_order_is(path):
    for text in ("22 mmHg", "22", "60 mL/h", "on", "tragus", "none", "1,5 mmHg", "1 L"):
        node = Scalar(text, text, "text", PLACE)
        assert judge_entry(path, text, PLACE) == read_leaf(field_table().fields[path], node)


def test_no_additive_takes_the_place_of_a_drug_and_the_other_way():
    seen = nothing_seen("entries")
    drug = with_entry(seen, ADDITIVE_NAME, judge_entry(ADDITIVE_NAME, "a drug", PLACE).leaf)
    assert not drug.leaves[ADDITIVE].given
    none = with_entry(drug, ADDITIVE_NAME, None)
    assert (none.leaves[ADDITIVE].value, none.leaves[ADDITIVE_NAME].given) == ("none", False)
