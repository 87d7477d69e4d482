"""Files made to break a reader, through the command line: each refused, in words, with status 2."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import pytest
from reading.attacks import attacks
from running import run

from orderlint.fields import field_table

ATTACKS = attacks()


@pytest.mark.parametrize("name", ATTACKS)
def test_an_attack_in_a_file_or_on_standard_input_is_refused(name, folder):
    refused_in_one_line(folder, ATTACKS[name])
    refused_on_standard_input(*ATTACKS[name])


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("attacks")


def refused_in_one_line(folder, attack):
    data, file, message, line, column = attack
    with contextlib.chdir(folder):
        Path(file).write_bytes(data)
        ran = run("verify", file)
    place = f"{file}:{line}:{column}" if line else file
    assert (ran.status, ran.out) == (2, b"")
    assert ran.err.startswith(f"{place}: {message}")
    assert ran.err.count("\n") == 1
    assert ran.err.rstrip("\n").isprintable()


def refused_on_standard_input(data, file, *_):
    ran = run("verify", "--format", "json", "-", stdin=data)
    if file.endswith(".yaml") or data.lstrip().startswith(b"{"):
        assert ran.status == 2
        assert ran.err.startswith("<stdin>:")
    assert "Traceback" not in ran.err
    report = json.loads(ran.out)
    assert [item["file"] for item in report["refused"]] == ["<stdin>"] * (ran.status == 2)
    assert report["faults"] == []


@pytest.mark.parametrize(
    "path", [f.path for f in field_table().fields.values() if f.kind == "text"]
)
@pytest.mark.parametrize("escape", [r"\e[31m", r"\u202e", r"\x9b2J"])
def test_an_escape_in_any_text_field_is_refused_where_it_stands(path, escape):
    *sections, key = path.split(".")
    lines = [f"{'  ' * depth}{section}:" for depth, section in enumerate(sections)]
    lines.append(f'{"  " * len(sections)}{key}: "red {escape} text"')
    ran = run("verify", "-", stdin="\n".join(["document: order", "format: 1", *lines]).encode())
    assert ran.status == 2
    place = f"<stdin>:{len(sections) + 3}:{2 * len(sections) + len(key) + 3}: The text holds U+"
    assert ran.err.startswith(place)
    assert "\x1b" not in ran.err


@pytest.mark.parametrize(
    ("written", "rule"),
    [
        ("5 m**9**9**9", "unit-not-known"),
        ("5 mmHg^999999999", "unit-not-known"),
        ("1e999", "number-form-unsafe"),
        ("1e999 mmHg", "number-form-unsafe"),
    ],
)
@pytest.mark.parametrize("file", ["order.yaml", "order.json"])
def test_a_number_or_unit_made_to_blow_up_is_one_finding(written, rule, file, tmp_path):
    bare = written == "1e999"
    value = written if bare else f'"{written}"'
    text = f'{{"document": "order", "format": 1, "treat_above": {value}}}'
    (tmp_path / file).write_text(text, encoding="utf-8")
    ran = run("verify", "--format", "json", tmp_path / file)
    assert ran.status == 1
    (document,) = json.loads(ran.out)["documents"]
    about = [f["rule"] for f in document["findings"] if f["path"] == "treat_above"]
    assert about == [rule]
