"""How much is drawn: little in most runs, all of it with `--hypothesis-profile=thorough`.

`.ci/thorough` runs the tests that draw so, and `.ci/run` runs that. `.ci/coverage` draws what it
takes for every line to be reached in each run.

HYPOTHESIS_PROFILE in the environment names a profile too, where pytest's plugins are not loaded.

No profile has a deadline: a slow machine is no fault of the code, and no test here judges time.
"""

from __future__ import annotations

import functools
import gc
import importlib
import os

import pytest
from hypothesis import HealthCheck, settings

ANY_SIZE_AND_SPEED = {
    "deadline": None,
    "suppress_health_check": [
        HealthCheck.too_slow,
        HealthCheck.filter_too_much,
        HealthCheck.data_too_large,
        HealthCheck.large_base_example,
    ],
}
WORKED_OUT = (
    "orderlint.comparison.sets.compare_sets",
    "orderlint.set_review.review_set",
    "orderlint.report.audit.table_counts.hidden_counts",
)
settings.register_profile("quick", max_examples=8, **ANY_SIZE_AND_SPEED)
settings.register_profile("coverage", max_examples=15, **ANY_SIZE_AND_SPEED)
settings.register_profile("thorough", max_examples=100, **ANY_SIZE_AND_SPEED)
gc.disable()  # until all is collected, of which nothing goes
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """The tests of a file run in one process, so that what they share is made once."""
    from xdist.scheduler import LoadFileScheduling  # noqa: PLC0415 - where xdist is used

    return LoadFileScheduling(config, log)


def pytest_collection_finish():
    """Spare the garbage collector what lives as long as the run: a tenth of it all is saved.

    To go through all that lives takes seconds each time, and what is old by then mostly goes on.
    """
    gc.freeze()
    gc.set_threshold(20_000, 20, 1_000)
    gc.enable()


@pytest.fixture
def worked_out_once(monkeypatch):
    """What is compared or proved of the same sets is worked out once, for all the forms it has."""
    for name in WORKED_OUT:
        monkeypatch.setattr(name, _once(name))


@pytest.fixture
def contradictions_found_once(monkeypatch):
    """Policies with the same do-not-start rules are asked once whether an order keeps them."""
    monkeypatch.setattr("orderlint.rulebook.policy_rules_check.contradictions", _contradictions())


@functools.cache
def _contradictions():
    from orderlint.finding import Level  # noqa: PLC0415 - where policies are checked
    from orderlint.rulebook.rules_together import contradictions  # noqa: PLC0415 - so is this

    found = {}

    def once(rulebook, budget):
        heavy = (rule for rule in rulebook.order_rules if rule.level is Level.DO_NOT_START)
        rules = ((r.id, r.family, *(each.condition for each in r.instances)) for r in heavy)
        asked = (budget.is_spent, *rules)
        if asked not in found:
            found[asked] = tuple(contradictions(rulebook, budget))
        return found[asked]

    return once


@functools.cache
def _once(name):
    module, _, function = name.rpartition(".")
    return OnceForAll(getattr(importlib.import_module(module), function))


class OnceForAll:
    """A function that gives its result again where it is asked of the same."""

    def __init__(self, made):
        self.made, self.results = made, []

    def __call__(self, *asked):
        for number, (before, result) in enumerate(self.results):
            if before == asked:
                del self.results[number]
                return self._kept(asked, result)
        return self._kept(asked, self.made(*asked))

    def _kept(self, asked, result):
        """The newest first: what is asked again is mostly the same object, equal at a glance."""
        self.results.insert(0, (asked, result))
        return result
