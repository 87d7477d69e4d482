"""Small counts hidden, and as many others as it takes that no total gives one of them away.

A hidden count is not shown, nor can it be computed from what is shown. It may still be guessed
near: that takes more than a threshold. Never a word of a report but those of a hidden count.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeVar

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

_Key = TypeVar("_Key")

NOT_SHOWN = "not shown"
"""Stands for a count of any size that would give a small one away."""


class Shown(NamedTuple):
    """A count as it may be shown: `value` is None where it is hidden, `text` is never empty."""

    value: int | None
    text: str


class _Hidden(NamedTuple):
    """A hidden count, and between what a reader knows it to be; None is no upper bound."""

    value: int
    most: int | None

    @property
    def falls(self) -> bool:
        return self.value > 0

    @property
    def rises(self) -> bool:
        return self.most is None or self.value < self.most


def shown_count(count: int, min_cell: int) -> Shown:
    """A count that stands alone: hidden where it is from 1 up to below `min_cell`."""
    if 0 < count < min_cell:
        return Shown(None, under_words(min_cell))
    return Shown(count, f"{count:,}")


def under_words(min_cell: int) -> str:
    """What is shown for a small count."""
    return f"under {min_cell}"


def shown_line(
    counts: Mapping[_Key, int],
    min_cell: int,
    most: Mapping[_Key, int] | None = None,
    hide: Collection[_Key] = (),
) -> dict[_Key, Shown]:
    """Counts that add up to a total which is shown, each as it may be shown.

    If a small count could be computed from the others, another is hidden too: first a zero, of
    which "under 5" is true as well, then the smallest that is shown. Those to `hide` are hidden in
    any case. `most` has what a reader knows each count to be at most, if anything. If the total
    itself is small, it must be hidden too.
    """
    capped = {key: _at_most(key, min_cell, most) for key in counts}
    small = (key for key, count in counts.items() if 0 < count < min_cell)
    hidden: dict[_Key, int | None] = {**dict.fromkeys(hide), **{key: capped[key] for key in small}}
    while hidden and _can_be_computed(counts, hidden):
        cover = _next_cover(counts, hidden, capped)
        if cover is None:
            hidden = dict.fromkeys(counts)
            break
        hidden[cover] = capped[cover] if counts[cover] == 0 else None
    return {key: _as_shown(key, counts[key], hidden, min_cell) for key in counts}


def _at_most(key: _Key, min_cell: int, most: Mapping[_Key, int] | None) -> int:
    """What a reader knows a count to be at most that is shown as small."""
    return min(min_cell - 1, most[key]) if most else min_cell - 1


def _next_cover(
    counts: Mapping[_Key, int],
    hidden: Mapping[_Key, int | None],
    capped: Mapping[_Key, int],
) -> _Key | None:
    """The count to hide next: the zero that could be largest, else the smallest; None if all are.

    A zero that can be nothing else covers nothing.
    """
    left = [key for key in counts if key not in hidden]
    zeros = [key for key in left if counts[key] == 0 and capped[key] > 0]
    if zeros:
        return max(zeros, key=lambda key: capped[key])
    others = (key for key in left if counts[key])
    return min(others, key=lambda key: counts[key], default=None)


def _can_be_computed(counts: Mapping[_Key, int], hidden: Mapping[_Key, int | None]) -> bool:
    """True if some hidden count has one value only that fits the total and what else is shown."""
    known = [_Hidden(counts[key], most) for key, most in hidden.items()]
    falling, rising = sum(item.falls for item in known), sum(item.rises for item in known)
    return any(
        not (item.falls and rising > item.rises) and not (item.rises and falling > item.falls)
        for item in known
        if item.value
    )


def _as_shown(key: _Key, count: int, hidden: Mapping[_Key, int | None], min_cell: int) -> Shown:
    if key not in hidden:
        return Shown(count, f"{count:,}")
    return Shown(None, NOT_SHOWN if hidden[key] is None else under_words(min_cell))
