"""An audit whose walker is wrong differs from verify: the comparison is one that can fail."""

from __future__ import annotations

import pytest
from audit import mutants
from audit.answers import audit, differences
from audit.counts import counted
from audit.files import written
from audit.tables import one_for_each_rule


@pytest.fixture(scope="module")
def rows():
    """Rows at the limits of some rules, and of one rule for each kind of mistake."""
    return [cells for _, cells in one_for_each_rule()][::12]


@pytest.fixture(scope="module")
def truth(rows):
    return counted(rows)


@pytest.fixture(scope="module")
def files(rows, tmp_path_factory):
    return written(rows, tmp_path_factory.mktemp("table"), "parquet")


@pytest.mark.deep
def test_without_a_mistake_there_is_no_difference(files, truth):
    assert differences(audit(*files), truth) == {}


@pytest.mark.deep
@pytest.mark.parametrize("walker", mutants.WALKERS, ids=lambda walker: walker.__name__)
def test_a_mistake_in_the_walker_is_found(walker, files, truth, monkeypatch):
    mutants.put_in_place(monkeypatch, walker)
    assert differences(audit(*files), truth)


@pytest.mark.deep
def test_an_instance_that_is_dropped_is_found(files, truth, monkeypatch):
    mutants.drop_the_last_instance(monkeypatch)
    assert differences(audit(*files), truth)
