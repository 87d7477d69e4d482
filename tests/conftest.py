"""How much is drawn: little in most runs, all of it with `--hypothesis-profile=thorough`.

`.ci/thorough` runs the tests that draw so, and `.ci/run` runs that.

HYPOTHESIS_PROFILE in the environment names a profile too, where pytest's plugins are not loaded.

No profile has a deadline: a slow machine is no fault of the code, and no test here judges time.
"""

from __future__ import annotations

import gc
import os

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
settings.register_profile("quick", max_examples=15, **ANY_SIZE_AND_SPEED)
settings.register_profile("thorough", max_examples=100, **ANY_SIZE_AND_SPEED)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))


def pytest_collection_finish():
    """Spare the garbage collector what lives as long as the run: a tenth of it all is saved."""
    gc.freeze()
    gc.set_threshold(20_000)
