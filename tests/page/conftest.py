"""The page that the tests here ask."""

from __future__ import annotations

import pytest
from asking_page import AT

from orderlint.page.form_answers import SiteForm
from orderlint.page.site import Site


@pytest.fixture
def site():
    return Site(SiteForm("/key/", None, lambda: int(AT.timestamp() * 1000)))
