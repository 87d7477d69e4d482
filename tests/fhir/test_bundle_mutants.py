"""No Bundle that a small change makes other than the clean one is clear."""

from __future__ import annotations

from datetime import datetime

import pytest
from fhir.bundle_mutants import MUTANTS
from fhir.bundles import as_json, clean_bundle

import orderlint
from orderlint.finding import Refused

AT = datetime.fromisoformat("2026-03-02T15:30:00-06:00")
STARTS = {"clear", "note"}
"""The verdicts under which an order may be started as it is."""


def verdict(text: str) -> str:
    """The verdict on a Bundle; `refused` where it is not read."""
    try:
        return orderlint.verify(text, at=AT).verdict
    except Refused:
        return "refused"


def test_the_clean_bundle_is_clear() -> None:
    assert verdict(as_json(clean_bundle())) == "clear"


@pytest.mark.parametrize("name", MUTANTS)
def test_a_mutant_is_not_clear(name: str) -> None:
    mutant = clean_bundle()
    MUTANTS[name](mutant)
    text = as_json(mutant)
    assert text != as_json(clean_bundle())
    assert verdict(text) not in STARTS
