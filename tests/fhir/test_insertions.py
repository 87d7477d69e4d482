"""Whatever R4 allows beside what stands in a Bundle keeps it from being clear, or is harmless."""

from __future__ import annotations

from datetime import datetime

import pytest
from fhir.bundles import as_json, clean_bundle
from fhir.harmless import HARMLESS
from fhir.insertions import insertions
from fhir.validators import checker

import orderlint
from orderlint.finding import Refused

pytestmark = pytest.mark.fhir_validators

AT = datetime.fromisoformat("2026-03-02T15:30:00-06:00")


def is_clear(text: str) -> bool:
    """Whether an order may be started as it is."""
    try:
        return orderlint.verify(text, at=AT).verdict in {"clear", "note"}
    except Refused:
        return False


def test_an_element_more_is_told_or_harmless() -> None:
    cases = [*insertions(checker().definitions, clean_bundle())]
    clear = {path for path, bundle in cases if is_clear(as_json(bundle))}
    assert len(cases) > 1_500
    assert clear - HARMLESS.keys() == set()
    assert HARMLESS.keys() - clear == set()
