"""A fault of shape has a finding, or it is a fault of ours."""

from __future__ import annotations

import pytest

from orderlint import schema_check
from orderlint.fields import field_table
from orderlint.reading import read

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
