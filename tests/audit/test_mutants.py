"""An audit that judges wrongly differs from verify: the comparison is one that can fail."""

from __future__ import annotations

import pytest
from audit import mutants
from audit.answers import audit, differences
from audit.bases import CHECKED, of_rules
from audit.counts import counted
from audit.files import written
from audit.tables import AT_HAND, whole_row

pytestmark = pytest.mark.deep


@pytest.fixture(scope="module")
def rows():
    """Orders at the limits of rules and without what they ask for: each rule's own examples."""
    cells = ({CHECKED: AT_HAND, **each.cells} for each in of_rules())
    return [whole_row(each, number, "East") for number, each in enumerate(cells)][::3]


@pytest.fixture(scope="module")
def truth(rows):
    return counted(rows, CHECKED)


@pytest.fixture(scope="module")
def table(rows, tmp_path_factory):
    files = written(rows, tmp_path_factory.mktemp("table"), "parquet")
    return (*files, "--as-of", f"column:{CHECKED}")


def test_without_a_mistake_there_is_no_difference(table, truth):
    assert differences(audit(*table), truth) == {}


@pytest.mark.parametrize("plant", mutants.ALL, ids=lambda plant: plant.__name__)
def test_a_mistake_is_found(plant, table, truth, monkeypatch):
    plant(monkeypatch)
    assert differences(audit(*table), truth)
