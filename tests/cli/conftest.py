"""What several tests of the command line ask of one comparison or proof."""

from __future__ import annotations

import importlib

import pytest


@pytest.fixture
def worked_out_once(monkeypatch):
    """What is compared or proved of sets is worked out once for all the forms it is told in."""
    for name in ("comparison.sets.compare_sets", "api.set_review.review_set"):
        module, _, function = f"orderlint.{name}".rpartition(".")
        made = getattr(importlib.import_module(module), function)
        monkeypatch.setattr(f"orderlint.{name}", OnceForAll(made))


@pytest.fixture(autouse=True)
def _state_of_its_own(tmp_path_factory, monkeypatch):
    """Nothing is kept in the folder of whoever runs the tests."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))


class OnceForAll:
    """A function that gives its first result again where it is asked of the same."""

    def __init__(self, made):
        self.made, self.asked, self.result = made, None, None

    def __call__(self, *asked):
        if self.asked != asked:
            self.asked, self.result = asked, self.made(*asked)
        return self.result
