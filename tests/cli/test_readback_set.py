"""Settings given on the command line: what contradicts itself is refused, never chosen between."""

from __future__ import annotations

import json

import pytest
from running import AT, CLEAN, run

NAME, NONE = ("--set", "irrigation.additive.name=a drug"), ("--set", "irrigation.additive=none")


@pytest.mark.parametrize("settings", [(*NAME, *NONE), (*NONE, *NAME)])
def test_no_additive_and_its_name_are_refused_in_either_order(settings):
    ran = run("readback", *AT, *settings, CLEAN)
    assert (ran.status, ran.out) == (2, b"")
    assert "irrigation.additive and a part of it are both set" in ran.err


def test_what_is_not_seen_is_nothing_and_not_the_word_none():
    looked = run("readback", *AT, "--format", "json", "--set", "therapy=irrigation", CLEAN)
    rows = {row["path"]: row["says"] for row in json.loads(looked.out)["settings"]}
    said = "Additive: ordered none, seen nothing: ordered and not seen"
    assert rows["irrigation.additive"] == said
    text = run("readback", *AT, *NONE, CLEAN).text
    assert "Additive: ordered none, seen none: as ordered" in text
