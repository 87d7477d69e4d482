"""The schema of site policies: strict in its keywords, worded throughout, and true of policies.

An editor helps by it; the tool itself reads a policy with line and column. The two agree on keys.
"""

from __future__ import annotations

from pathlib import Path

import core_yaml
import pytest
from jsonschema import Draft202012Validator
from policy_files import RULE, local, site_policy, suppression

from orderlint.fields import load_schema
from orderlint.finding import Refused
from orderlint.rulebook import rule_reader
from orderlint.rulebook.policy import document

SCHEMA = load_schema("site-policy")
POLICY = Draft202012Validator(SCHEMA)
FOLDER = Path(__file__).parents[1] / "examples"
EXAMPLES = sorted(FOLDER.glob("policy-*.yaml"))
# JSON Schema lets a misspelt keyword pass; this is all that is used here.
KEYWORDS = {
    *("$schema", "$ref", "$defs", "title", "description", "type", "const", "enum", "format"),
    *("required", "properties", "additionalProperties", "propertyNames", "items"),
    *("minItems", "minLength", "pattern", "if", "then", "else"),
}


def nodes(node, is_named=False):
    """Every schema in the schema, and whether it is of a named thing."""
    if not isinstance(node, dict):
        return
    yield node, is_named
    for key in ("properties", "$defs"):
        for child in node.get(key, {}).values():
            yield from nodes(child, key == "properties")
    for key in ("items", "additionalProperties", "if", "then", "else", "propertyNames"):
        yield from nodes(node.get(key), False)


def resolved(node):
    if "title" in node or "$ref" not in node:
        return node
    return SCHEMA["$defs"][node["$ref"].removeprefix("#/$defs/")]


def test_it_is_a_schema_of_known_keywords():
    Draft202012Validator.check_schema(SCHEMA)
    for node, _ in nodes(SCHEMA):
        assert set(node) <= KEYWORDS, node


def test_every_key_of_a_policy_has_a_title_and_a_description():
    named = [node for node, is_named in nodes(SCHEMA) if is_named and set(node) != {"const"}]
    assert len(named) > 30
    for node in named:
        worded = resolved(node)
        assert worded["title"][0].isupper(), node
        assert worded["description"].endswith("."), node


def test_its_keys_are_those_that_the_tool_reads():
    assert set(SCHEMA["properties"]) == set(document.KEYS)
    rule = set(SCHEMA["$defs"]["rule"]["properties"])
    assert rule == {*rule_reader.KEYS, *rule_reader.CONDITION} - {"found_by"}
    assert set(SCHEMA["$defs"]["rule"]["properties"]["ask_whom"]["enum"]) == set(
        rule_reader.ASK_WHOM
    )


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_an_example_is_valid(path):
    assert [error.message for error in POLICY.iter_errors(core_yaml.load_file(path))] == []


def test_there_is_an_example_of_everything_but_sources():
    keys = {key for path in EXAMPLES for key in core_yaml.load_file(path)}
    assert keys == set(document.KEYS) - {"sources"}


def test_the_built_in_policy_is_valid_but_for_what_it_alone_says():
    built_in = core_yaml.load_file(Path(document.__file__).parents[2] / "rules/policy.yaml")
    for value in built_in["values"].values():
        value.pop("weaker")
        value.pop("called")
        value.pop("choices", None)
        value.pop("form", None)
    assert [error.message for error in POLICY.iter_errors(built_in)] == []


@pytest.mark.parametrize(
    "parts",
    [
        "valeus: {}\n",
        "values: {window_min: {value: 5 mmHg}}\n",
        "values: {window_min: {value: 5 mmHg, source: {kind: hearsay}}}\n",
        "values: {window_min: {value: 5 mmHg, source: {kind: published}}}\n",
        "values: {window_min: {value: 5 mmHg, source: {kind: logic, cite: severe-tbi}}}\n",
        "levels: [{rule: bag-not-stocked, level: note, approved_by: x}]\n",
        "levels: [{rule: bag-not-stocked, level: light, reason: x, approved_by: x}]\n",
        "completeness: {prescriber: quiet}\n",
        "completeness: [prescriber]\n",
        RULE.replace("why:", "wy:"),
        RULE.replace("ask_whom: prescriber", "ask_whom: nobody"),
        RULE.replace("ask_whom: prescriber", "ask_whom: prescriber\n    found_by: schema"),
        suppression("bag-not-stocked", until=None),
        suppression("bag-not-stocked", whom="x"),
    ],
)
def test_what_the_schema_refuses_the_tool_refuses(parts):
    text = site_policy(parts)
    assert not POLICY.is_valid(core_yaml.load(text))
    with pytest.raises(Refused):
        local(parts)


@pytest.mark.parametrize("parts", ["", RULE, suppression("bag-not-stocked")])
def test_what_the_tool_reads_is_valid(parts):
    local(parts)
    assert POLICY.is_valid(core_yaml.load(site_policy(parts)))
