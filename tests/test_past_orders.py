"""The table of past orders in examples/ is what its script draws."""

from __future__ import annotations

import past_orders
import pytest


@pytest.mark.slow
def test_the_table_is_as_it_is_drawn():
    assert past_orders.WRITTEN.read_text(encoding="utf-8") == past_orders.text()
