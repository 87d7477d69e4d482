"""What is passed over as read whole has nothing in it to be told, of whatever shape it is."""

from __future__ import annotations

import json

import pytest

from orderlint.fhir.bundle import elements
from orderlint.fhir.element import Element
from orderlint.reading.from_json import read_json
from orderlint.reading.node import Scalar

NAMES = ("id", "_id", "_status", "modifierExtension", "implicitRules", "elsewhere")
SHAPES = (
    *(1, None, "a", {}, [], [[]], ["a"], [{}], [{}, 1]),
    *({"id": "a"}, {"text": "a"}, {"text": {}}, {"modifierExtension": []}),
    *({"coding": {}}, {"coding": [{"code": "a"}]}, {"coding": [{"code": "a", "elsewhere": 1}]}),
    *([{"coding": [{"code": []}]}], [{"value": "a"}], [{"tag": [{}]}], {"numerator": {"value": 1}}),
)


@pytest.mark.parametrize("kind", elements.READ)
def test_what_is_read_whole_has_nothing_left_over(kind, monkeypatch):
    wholes = [{name: shape} for name in (*elements.READ[kind], *NAMES) for shape in SHAPES]
    read = [Element(read_json(json.dumps(whole), "a.json"), kind) for whole in wholes]
    shortly = [[*elements.left_over(each, kind)] for each in read]
    monkeypatch.setattr(
        elements, "_is_read", lambda node, kind: not kind and isinstance(node, Scalar)
    )
    assert shortly == [[*elements.left_over(each, kind)] for each in read]
