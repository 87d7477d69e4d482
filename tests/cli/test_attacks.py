"""Files made to break a reader, through the command line: each refused, in words, with status 2."""

from __future__ import annotations

import json

import pytest
from reading.attacks import attacks
from running import run

ATTACKS = attacks()


@pytest.mark.parametrize("name", ATTACKS)
def test_an_attack_is_refused_in_one_line(name, tmp_path, monkeypatch):
    data, file, message, line, column = ATTACKS[name]
    monkeypatch.chdir(tmp_path)
    (tmp_path / file).write_bytes(data)
    ran = run("verify", file)
    place = f"{file}:{line}:{column}" if line else file
    assert (ran.status, ran.out) == (2, b"")
    assert ran.err.startswith(f"{place}: {message}")
    assert ran.err.count("\n") == 1
    assert ran.err.rstrip("\n").isprintable()


@pytest.mark.parametrize("name", ATTACKS)
def test_an_attack_on_standard_input_is_refused(name):
    data, file, *_ = ATTACKS[name]
    ran = run("verify", "--format", "json", "-", stdin=data)
    if file.endswith(".yaml"):
        assert ran.status == 2
        assert ran.err.startswith("<stdin>:")
    assert "Traceback" not in ran.err
    report = json.loads(ran.out)
    assert [item["file"] for item in report["refused"]] == ["<stdin>"] * (ran.status == 2)
    assert report["faults"] == []
