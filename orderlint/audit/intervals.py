"""The interval of a share: how far chance alone may have moved it.

Floats, since it is for looking at. Never a verdict.
"""

from __future__ import annotations

from math import sqrt

_Z = 1.959963984540054
"""The 97.5 % point of the normal distribution, so that intervals are of 95 %."""


def wilson(count: int, of: int) -> tuple[float, float]:
    """The 95 % score interval of the share `count / of`: lower and upper end, from 0 to 1.

    (0, 1) where there is nothing to count. Formula: Wilson EB, J Am Stat Assoc 1927;22:209-212
    (from memory).
    """
    if not of:
        return 0.0, 1.0
    share, squared = count / of, _Z * _Z
    middle = (share + squared / (2 * of)) / (1 + squared / of)
    half = _Z / (1 + squared / of) * sqrt(share * (1 - share) / of + squared / (4 * of * of))
    low = 0.0 if count == 0 else max(0.0, middle - half)
    return low, 1.0 if count == of else min(1.0, middle + half)
