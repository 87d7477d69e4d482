"""The verb `new`: beginnings that are read, in which nothing is written yet, and their schemas."""

from __future__ import annotations

import json
import re

import pytest
from core_yaml import load as load_yaml
from running import run

import orderlint
from orderlint.fields import field_table, schema_text
from orderlint.finding import Level
from orderlint.order import SIGNING_FIELDS
from orderlint.reading import read
from orderlint.rulebook.load import load

KINDS = ("order", "order-set", "site-policy")
TO_THE_AUTHOR = {
    *("no-sound-order-exists", "preset-breaks-rule", "could-not-be-proved"),
    *("set-title-missing", "set-population-missing", "set-version-missing"),
    *("set-owner-missing", "set-approval-missing"),
}
"""What a set without a value is told: that its parts are missing, and nothing of what is there."""


def begun(kind: str) -> str:
    ran = run("new", kind)
    assert (ran.status, ran.err) == (0, "")
    return ran.out.decode()


def test_a_new_order_lacks_everything_and_has_no_other_fault():
    assessment = orderlint.verify(begun("order")).assessment
    assert {item.rule.partition("-")[0] for item in assessment.findings} == {"missing"}
    assert {*assessment.suppressed} == set()


def test_a_new_order_set_is_told_only_what_the_author_must_fill_in():
    reviewed = orderlint.review(begun("order-set"))
    found = {item.rule for item in reviewed.findings}
    assert found <= TO_THE_AUTHOR
    for item in reviewed.findings:
        if item.rule == "preset-breaks-rule":
            assert "missing-" in item.says


def test_every_field_is_there_and_empty():
    table = field_table()
    for kind, head, without in (
        ("order", ("document", "format"), ()),
        ("order-set", ("document", "format"), SIGNING_FIELDS),
    ):
        text = begun(kind)
        root = read(text.encode(), "new.yaml").root
        root = root if kind == "order" else root.get("order")
        for path in table.fields:
            if path.startswith("irrigation.additive.") or path in {*head, *without}:
                continue
            node = root
            for key in path.split("."):
                node = node.get(key)
            assert (path, node.form) == (path, "nothing")
            assert f"# {table.fields[path].name}; " in text


def test_a_new_policy_changes_nothing_until_a_value_is_taken_in():
    text = begun("site-policy")
    built_in, site = load("all"), load("all", read(text.encode(), "new.yaml", "site-policy"))
    assert dict(site.values) == dict(built_in.values)
    assert (site.suppressions, site.weaker, site.faults) == ((), (), ())


def test_each_value_of_a_new_policy_is_the_built_in_one_when_it_is_taken_in():
    head, _, rest = begun("site-policy").partition("#values:\n")
    lines = rest.partition("\n\n")[0].replace("\n#  ", "\n  ").replace("#  ", "  ", 1)
    values = re.split(r"^(?=  \w)", lines, flags=re.MULTILINE)[1:]
    own = [value for value in values if "rules --values" not in value]
    document = read(f"{head}values:\n{''.join(own)}".encode(), "new.yaml", "site-policy")
    built_in, site = load("order"), load("order", document)
    assert len(values) == len(built_in.values)
    assert site.weaker == ()
    for name, value in site.values.items():
        assert (value.parts, value.keyed) == (
            built_in.values[name].parts,
            built_in.values[name].keyed,
        )
    for value in {*values} - {*own}:
        name = value.split(":")[0].strip()
        assert run("rules", "--values", name).status == 0


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_names_its_schema_which_is_put_beside_it(kind, tmp_path):
    file = tmp_path / "begun.yaml"
    assert run("new", kind, "--output", file).status == 0
    first, _, rest = file.read_text(encoding="utf-8").partition("\n")
    assert first == f"# yaml-language-server: $schema={kind}.schema.json"
    assert rest == begun(kind)
    beside = tmp_path / f"{kind}.schema.json"
    assert beside.read_text(encoding="utf-8") == schema_text(kind)
    assert (
        load_yaml(rest)["document"]
        == json.loads(schema_text(kind))["properties"]["document"]["const"]
    )


def test_nothing_that_is_there_is_written_over(tmp_path):
    file, schema = tmp_path / "order.yaml", tmp_path / "order.schema.json"
    schema.write_text("{}", encoding="utf-8")
    assert run("new", "order", "--output", file).status == 0
    before = file.read_bytes()
    ran = run("new", "order", "--output", file)
    assert (ran.status, ran.out) == (2, b"")
    assert "is there already. Nothing was written." in ran.err
    assert (file.read_bytes(), schema.read_text(encoding="utf-8")) == (before, "{}")


def test_a_folder_that_is_not_there_is_said(tmp_path):
    ran = run("new", "order", "--output", tmp_path / "none" / "order.yaml")
    assert ran.status == 2
    assert "could not be written" in ran.err


def test_where_the_document_cannot_be_written_no_schema_is_left(tmp_path):
    ran = run("new", "order", "--output", tmp_path / f"{'x' * 256}.yaml")
    assert ran.status == 2
    assert not [*tmp_path.iterdir()]


def test_the_levels_that_a_new_policy_names_are_those_there_are():
    text = begun("site-policy")
    assert all(level.value in text for level in Level)


def test_an_empty_name_and_one_too_long_are_told(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ran = run("new", "order", "--output", "")
    assert (ran.status, "--output names no file" in ran.err) == (2, True)
    ran = run("new", "order", "--output", "x" * 300)
    assert (ran.status, "File name too long" in ran.err) == (2, True)
