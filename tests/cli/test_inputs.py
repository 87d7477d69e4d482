from __future__ import annotations

import sys

import pytest

from orderlint.cli.inputs import read_input, shown_name
from orderlint.finding import Refused


def test_only_a_dash_is_standard_input():
    assert [shown_name(file) for file in ("-", "./-", "a.yaml")] == ["<stdin>", "./-", "a.yaml"]


def test_a_standard_input_that_is_closed_is_refused(monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    with pytest.raises(Refused, match=r"^<stdin>: Standard input is closed\.$"):
        read_input("-")


def test_a_file_is_read_to_one_byte_past_the_most(tmp_path):
    # The most that is read of an order is 1 MiB.
    file = tmp_path / "long"
    file.write_bytes(bytes(2**21))
    assert len(read_input(str(file))) == 2**20 + 1
