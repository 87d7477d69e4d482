from __future__ import annotations

from hypothesis import settings

# A slow machine is no fault of the code: no test here judges time.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
