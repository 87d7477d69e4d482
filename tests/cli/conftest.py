"""What every test of the command line has."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _state_of_its_own(tmp_path_factory, monkeypatch):
    """Nothing is kept in the folder of whoever runs the tests."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
