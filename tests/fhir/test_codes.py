"""The codes of the settings, where they stand, and the codes of their units."""

from __future__ import annotations

import code_system
import pytest

from orderlint.fhir.bundle.elements import BYSTANDERS, HARMLESS, READ
from orderlint.fhir.codes import (
    NAMED,
    ORDER,
    UCUM_CODES,
    UNITS_BY_CODE,
    setting_codes,
)
from orderlint.fields import field_table
from orderlint.units import find_unit


def test_the_code_system_is_that_of_the_schema():
    assert code_system.WRITTEN.read_text(encoding="utf-8") == code_system.text()


def test_each_setting_has_one_code_and_one_place():
    codes = setting_codes()
    assert len({*codes}) == len(codes) == len(field_table().fields) - 2
    assert ORDER not in codes
    assert {*NAMED} <= {*codes}
    assert len({*NAMED.values()}) == len(NAMED)


def test_every_unit_of_a_setting_but_those_of_activity_has_a_code():
    units = {unit for field in field_table().fields.values() for unit in field.decimals}
    assert {unit for unit in units if unit not in UCUM_CODES} == {
        "units/L",
        "units/mL",
        "million units/L",
    }
    assert all(UNITS_BY_CODE[code] == unit for unit, code in UCUM_CODES.items())


@pytest.mark.parametrize("code", UNITS_BY_CODE)
def test_a_code_is_that_of_a_unit(code):
    unit = find_unit(UNITS_BY_CODE[code])
    assert unit is None or unit.symbol == UNITS_BY_CODE[code]
    assert unit is not None or code in {"mg", "ug", "d"}


def test_no_element_is_both_read_and_harmless_and_each_is_of_a_known_type():
    assert HARMLESS.keys() <= READ.keys()
    for kind, read in READ.items():
        assert not read.keys() & HARMLESS.get(kind, {}).keys(), kind
        types = {inner.rstrip("*") for inner in read.values()} - {"", "Resource"}
        assert types <= READ.keys(), kind
    assert not BYSTANDERS.keys() & READ.keys()
