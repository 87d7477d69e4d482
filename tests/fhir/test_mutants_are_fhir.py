"""Mutants, hazards and their twins are FHIR as the standard has it: a reader may meet them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from fhir.bundle_mutants import MUTANTS, NOT_FHIR, PECULIAR
from fhir.bundles import as_json, clean_bundle, clean_service_bundle
from fhir.hazards import HAZARDS
from fhir.mutants_of_services import SERVICES
from fhir.validators import NAMES, assert_valid, validated

if TYPE_CHECKING:
    from fhir.changes import Change

pytestmark = pytest.mark.fhir_validators


def changed(change: Change) -> str:
    """The clean Bundle with one change, as JSON."""
    bundle = clean_bundle()
    change(bundle)
    return as_json(bundle)


@pytest.mark.parametrize("name", sorted(MUTANTS.keys() - NOT_FHIR - PECULIAR))
def test_a_mutant_is_fhir(name: str) -> None:
    assert_valid(changed(MUTANTS[name]))


@pytest.mark.parametrize("name", sorted(NOT_FHIR | PECULIAR))
def test_a_mutant_that_is_not_is_found(name: str) -> None:
    answer = validated(changed(MUTANTS[name]))
    assert any(getattr(answer, each) for each in NAMES)


@pytest.mark.parametrize("name", SERVICES)
def test_a_mutant_of_a_service_is_fhir(name: str) -> None:
    bundle = clean_service_bundle()
    SERVICES[name](bundle)
    assert_valid(as_json(bundle))


@pytest.mark.parametrize("name", HAZARDS)
def test_a_hazard_and_its_twin_are_fhir(name: str) -> None:
    for change in HAZARDS[name]:
        assert_valid(changed(change))
