"""Settings written as the YAML of an order: read as what they were, each with its form."""

from __future__ import annotations

import pytest

from orderlint.order import State
from orderlint.order_reader import read_order
from orderlint.reading import read
from orderlint.report.order.as_yaml import order_yaml


@pytest.mark.parametrize(
    ("text", "state"),
    [("0", State.KNOWN), ("12", State.KNOWN), ("01", State.UNREADABLE), ("one", State.UNREADABLE)],
)
def test_a_count_is_a_number_where_its_text_is_one(text, state):
    order = read_order(read(order_yaml({"revision": text}).encode(), "order.yaml", "order"))
    assert order.leaves["revision"].state is state
    assert order.leaves["revision"].text == text
