"""Statistics of shares: how far chance may have moved one, and from which month it is another.

Floats, since it is for looking at. Never a verdict.
"""

from __future__ import annotations

from math import log, sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_Z = 1.959963984540054
"""The 97.5 % point of the normal distribution, so that intervals are of 95 %."""
_LEAST = 10.827566170662733
"""The 99.9 % point of chi-square with one degree of freedom. So high, since of all months the one
is taken at which the shares differ most: of a hundred rows of 12 to 24 months without a change,
one or two pass."""


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


def change_point(months: Sequence[tuple[int, int]]) -> int | None:
    """The index of the month from which the share is another; None if in no month clearly so.

    `months` are counts with what they are of, by time. Found is the month that parts them into two
    binomial shares with the greatest likelihood, if that is clearly above the one of a single
    share: twice the gain of log-likelihood is `_LEAST` or more (likelihood-ratio test).
    """
    whole = _log_likelihood(*_sums(months))
    gains = [
        _log_likelihood(*_sums(months[:at])) + _log_likelihood(*_sums(months[at:])) - whole
        for at in range(1, len(months))
    ]
    most = max(gains, default=0.0)
    return gains.index(most) + 1 if 2 * most >= _LEAST else None


def _sums(months: Sequence[tuple[int, int]]) -> tuple[int, int]:
    return sum(count for count, _ in months), sum(of for _, of in months)


def _log_likelihood(count: int, of: int) -> float:
    """Of the share `count / of` itself, the likeliest."""
    return sum(part * log(part / of) for part in (count, of - count) if part)
