"""The catalogue by which an editor finds the schema of a file."""

from __future__ import annotations

import json
from pathlib import Path

import core_yaml
import pytest

from orderlint.reading.document import KINDS

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "schemas"
CATALOGUE = json.loads((FOLDER / "catalogue.json").read_bytes())
# What a person writes by hand; the tool alone writes the other kinds, or they ship with it.
WRITTEN_BY_HAND = {*KINDS} - {"read-back-kept", "rules"}


def test_each_kind_of_document_that_is_written_by_hand_is_in_it_once():
    named = [entry["url"] for entry in CATALOGUE["schemas"]]
    assert sorted(named) == sorted(f"{kind}.schema.json" for kind in WRITTEN_BY_HAND)


@pytest.mark.parametrize("entry", CATALOGUE["schemas"], ids=lambda entry: entry["url"])
def test_its_schema_lies_beside_it_and_is_for_the_kind_of_document(entry):
    # The form of a catalogue: "version", and in "schemas" name, description, fileMatch and url, as
    # JSON schema catalogues for editors have it (common practice; from memory).
    assert entry.keys() == {"name", "description", "fileMatch", "url"}
    schema = json.loads((FOLDER / entry["url"]).read_bytes())
    kind = schema["properties"]["document"]["const"]
    assert entry["url"] == f"{kind}.schema.json"
    assert {pattern.rpartition(".")[2] for pattern in entry["fileMatch"]} == {"yaml", "yml", "json"}


def test_orders_and_sets_lie_where_the_hooks_look_for_them():
    patterns = {entry["url"]: entry["fileMatch"] for entry in CATALOGUE["schemas"]}
    for hook in core_yaml.load_file(ROOT / ".pre-commit-hooks.yaml"):
        folder = hook["files"].removeprefix("(^|/)").partition("/")[0]
        assert f"**/{folder}/**/*.yaml" in patterns[f"{folder.rstrip('s')}.schema.json"]
