"""What every test of the command line has."""

from __future__ import annotations

import itertools

import pytest

_NUMBERS = itertools.count()


@pytest.fixture(autouse=True)
def _state_of_its_own(tmp_path_factory, monkeypatch):
    """Nothing is kept in the folder of whoever runs the tests; what keeps anything makes this."""
    folder = tmp_path_factory.getbasetemp() / f"state-{next(_NUMBERS)}"
    monkeypatch.setenv("XDG_STATE_HOME", str(folder))
