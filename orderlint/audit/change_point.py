"""The change point of a share: the month from which it is another than before, if there is one.

Floats, since it is for looking at. Never a verdict.
"""

from __future__ import annotations

from math import log
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_LEAST = 10.827566170662733
"""The 99.9 % point of chi-square with one degree of freedom. So high, since of all months the one
is taken at which the shares differ most: of a hundred rows of 12 to 24 months without a change,
one or two pass."""


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
