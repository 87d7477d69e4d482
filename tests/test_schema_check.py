"""A fault of shape has a finding, or it is a fault of ours."""

from __future__ import annotations

import pytest

from orderlint import schema_check
from orderlint.fields import field_table
from orderlint.finding import Place
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.reading.node import Scalar, nest_paths

ORDER = b"document: order\nformat: 1\nrevision: [1]\n"


def test_a_keyword_of_the_schema_that_has_no_finding_fails_loudly(monkeypatch):
    schema = {"properties": {"revision": {"maxItems": 0}}}
    monkeypatch.setattr(schema_check, "load_schema", lambda _: schema)
    schema_check._validator.cache_clear()
    with pytest.raises(AssertionError, match="maxItems, which has no finding"):
        schema_check.check_shape(read(ORDER, "order.yaml").root, field_table())
    schema_check._validator.cache_clear()


def test_a_list_is_no_whole_number():
    (fault,) = schema_check.check_shape(read(ORDER, "order.yaml").root, field_table())
    assert (fault.rule, fault.path, fault.place.line) == ("kind-not-expected", "revision", 3)


def test_an_answer_written_as_a_truth_value_does_not_load_the_schema(monkeypatch):
    monkeypatch.setattr(schema_check, "_validator", None)
    order = b'{"document": "order", "format": 1, "monitoring": {"alarms": true}}'
    assert read_order(read(order, "order.json")).faults == ()


@pytest.mark.parametrize("written", [True, False])
def test_a_truth_value_fits_where_the_schema_lists_it_and_nowhere_else(written):
    text = str(written).lower()
    node = Scalar(text, text, "truth", Place("order.yaml", 1, 1))
    for path in field_table().fields:
        nested = written
        for key in reversed(path.split(".")):
            nested = {key: nested}
        errors = schema_check._validator("order").iter_errors(nested)
        is_listed = not any(".".join(map(str, e.absolute_path)) == path for e in errors)
        root = nest_paths({path: node}, node.place)
        assert schema_check.known_nodes(root, field_table())[1] == is_listed
