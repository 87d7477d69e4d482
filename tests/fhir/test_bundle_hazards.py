"""The hazards that only a reader of FHIR can see, and their harmless twins."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import pytest
from each_case import holds_of_each
from fhir.bundle_mutants import MUTANTS
from fhir.bundles import as_json, clean_bundle, clean_service_bundle
from fhir.hazards import HAZARDS
from fhir.mutants_of_services import SERVICES
from fhir.verdicts import said
from running import run

import orderlint
from orderlint.finding import Refused

if TYPE_CHECKING:
    from collections.abc import Callable

    from fhir.bundles import Json
    from fhir.changes import Change

AT = datetime.fromisoformat("2026-03-02T15:30:00-06:00")
STARTS = {"clear", "note"}
"""The verdicts under which an order may be started as it is."""


def verdict(change: Change | None = None, clean: Callable[[], Json] = clean_bundle) -> str:
    """The verdict on a clean Bundle with a change; `refused` where it is not read."""
    bundle = clean()
    if change:
        change(bundle)
        assert as_json(bundle) != as_json(clean())
    try:
        return orderlint.verify(as_json(bundle), at=AT).verdict
    except Refused:
        return "refused"


def test_the_clean_bundles_are_clear() -> None:
    assert verdict() == "clear"
    assert verdict(clean=clean_service_bundle) == "clear"


def test_a_hazard_is_not_clear_and_its_twin_is() -> None:
    holds_of_each(HAZARDS, hazard_and_twin)


def hazard_and_twin(name: str) -> None:
    assert verdict(HAZARDS[name].hazard) not in STARTS
    assert verdict(HAZARDS[name].twin) == "clear"


def not_clear(name: str) -> None:
    assert verdict(MUTANTS[name]) not in STARTS


@pytest.mark.slow
def test_forty_mutants_are_not_clear() -> None:
    holds_of_each([*MUTANTS][::5], not_clear)
    holds_of_each([*SERVICES][::5], service_not_clear)


def service_not_clear(name: str) -> None:
    assert verdict(SERVICES[name], clean_service_bundle) not in STARTS


@pytest.mark.fhir_validators
def test_no_mutant_of_a_service_is_clear() -> None:
    holds_of_each(SERVICES, service_not_clear)


@pytest.mark.fhir_validators
def test_no_mutant_is_clear() -> None:
    holds_of_each(MUTANTS, not_clear)


def test_a_few_mutants_become_no_order_unnoticed() -> None:
    holds_of_each([*MUTANTS][::40], written_as_found)


@pytest.mark.fhir_validators
def test_a_mutant_becomes_no_order_unnoticed() -> None:
    """What `convert` writes is found to be what the Bundle is, but for free texts in comments."""
    holds_of_each(MUTANTS, written_as_found)


def written_as_found(name: str) -> None:
    bundle = clean_bundle()
    MUTANTS[name](bundle)
    text = as_json(bundle).encode()
    ran = run("convert", "--to", "orderlint", "-", stdin=text)
    if ran.status == 0:
        assert said(ran.out) == said(text)
    elif ran.status == 1:
        first, *left = [line for line in ran.text.splitlines() if line.startswith("#")]
        assert first.startswith("# From ")
        assert left
        assert all(line.endswith(" is a free text beside the instructions.") for line in left)
    else:
        assert ran.status == 2
        assert not ran.out
