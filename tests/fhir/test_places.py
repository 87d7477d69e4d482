"""The FHIRPath of each finding leads to one element, by an engine that is not ours."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from each_case import holds_of_each
from fhir.bundle_mutants import MUTANTS, NOT_FHIR, PECULIAR
from fhir.bundles import as_json, clean_bundle
from fhir.validators import found_at
from running import AT, run

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.fhir_validators


def elements(data: Any) -> Iterator[str]:
    """Each FHIRPath in a report."""
    if isinstance(data, dict):
        if "element" in data:
            yield data["element"]
        for value in data.values():
            yield from elements(value)
    elif isinstance(data, list):
        for value in data:
            yield from elements(value)


def places_lead_there(name: str) -> None:
    bundle = clean_bundle()
    MUTANTS[name](bundle)
    text = as_json(bundle)
    ran = run("verify", "--format", "json", *AT, "-", stdin=text.encode())
    if ran.status == 2:
        return
    paths = sorted({*elements(json.loads(ran.out))})
    outcome = json.loads(run("verify", "--format", "fhir", *AT, "-", stdin=text.encode()).out)
    paths += [each for issue in outcome["issue"] for each in issue.get("expression", ())]
    counts = dict(zip(paths, found_at(text, paths), strict=True))
    assert all(count == 1 for count in counts.values()), counts


def test_a_place_is_one_element() -> None:
    names = [name for name in MUTANTS if name not in NOT_FHIR | PECULIAR]
    assert len(names) > 150
    holds_of_each(names, places_lead_there)
