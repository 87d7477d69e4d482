"""A service for all these tests: started once, and ended as any host ends it."""

from __future__ import annotations

import pytest
from service.client.running_service import UNTIL_ENDED, started


@pytest.fixture(scope="session")
def service(tmp_path_factory):
    """One that trusts nobody, so that it listens on this machine alone."""
    folder = tmp_path_factory.mktemp("service")
    running = started(folder)
    yield running
    status, took = running.end()
    written = (folder / "stderr.txt").read_text(encoding="utf-8")
    assert (status, "Traceback" in written) == (0, False), written[-4000:]
    assert took < UNTIL_ENDED


@pytest.fixture
def lives_on(service):
    """After each test it still answers."""
    yield
    assert service.lives()
