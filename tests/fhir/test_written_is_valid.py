"""What is written for FHIR is as the standard has it, by validators that are not ours."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from each_case import holds_of_each
from fhir.bundles import EXAMPLES
from fhir.drawn_texts import drawn_order
from fhir.validators import assert_valid
from running import AT, run

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.fhir_validators

MANY = 2_000
ORDERS = sorted(
    path
    for path in EXAMPLES.glob("*.[yj]*")
    if re.search(rb'document"?: "?order\b(?!-)', path.read_bytes())
)
NO_PLACE = "misspelt-keys"
"""Has keys that no order has."""
SETS = sorted(EXAMPLES.glob("set-*.yaml"))


def valid(seed: int) -> None:
    """The Bundle of a drawn order, where there is one, is valid."""
    ran = run("convert", "--to", "fhir", "-", stdin=drawn_order(seed).encode())
    if ran.status == 0:
        assert_valid(ran.out.decode())


@pytest.mark.parametrize("part", range(8))
def test_the_bundles_of_two_thousand_drawn_orders_are_valid(part: int) -> None:
    holds_of_each(range(part, MANY, 8), valid)


@pytest.mark.parametrize("path", [*ORDERS, *SETS], ids=lambda path: path.stem)
def test_an_example_is_written_as_a_valid_resource(path: Path) -> None:
    ran = run("convert", "--to", "fhir", path)
    if path.stem == NO_PLACE:
        assert ran.status == 2
        assert not ran.out
        return
    assert ran.status == 0, ran.err
    assert_valid(ran.out.decode())


@pytest.mark.parametrize("path", ORDERS, ids=lambda path: path.stem)
def test_findings_are_a_valid_outcome(path: Path) -> None:
    assert_valid(run("verify", "--format", "fhir", *AT, path).out.decode())
