"""How many examples a test draws under the profile that is loaded (see conftest.py)."""

from __future__ import annotations

from hypothesis import settings

_THOROUGH = settings.get_profile("thorough").max_examples


def most(thorough: int) -> settings:
    """Up to so many examples in a thorough run, and in any other that profile's share of them."""
    return settings(max_examples=share_of(thorough))


def share_of(thorough: int) -> int:
    """The share of a thorough run's examples that is drawn under this profile; at least two."""
    return max(2, thorough * settings().max_examples // _THOROUGH)
