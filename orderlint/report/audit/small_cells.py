"""Small counts hidden, and as many others as it takes that no total gives one of them away.

Counts that stand alone, in a line, or of two policies side by side. A hidden count is not shown,
nor can it be computed from what is shown. It may still be guessed near: that takes more than a
threshold. Never a word of a report but those of a hidden count.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeVar

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from orderlint.audit.model import MovedRows

_Key = TypeVar("_Key")

NOT_SHOWN = "not shown"
"""Stands for a count of any size that would give a small one away."""


class ShownCount(NamedTuple):
    """A count as it may be shown: `value` is None where it is hidden, `text` is never empty."""

    value: int | None
    text: str


_UNSHOWN = ShownCount(None, NOT_SHOWN)


def shown_count(count: int, min_cell: int) -> ShownCount:
    """A count that stands alone: hidden where it is from 1 up to below `min_cell`."""
    return shown_or_hidden(count, min_cell, is_hidden=0 < count < min_cell)


def shown_or_hidden(count: int, min_cell: int, *, is_hidden: bool) -> ShownCount:
    """A count, or in its place what is shown for a hidden one of its size."""
    if not is_hidden:
        return ShownCount(count, f"{count:,}")
    return ShownCount(None, under_words(min_cell) if count < min_cell else NOT_SHOWN)


def under_words(min_cell: int) -> str:
    """What is shown for a small count."""
    return f"under {min_cell}"


def shown_line(
    counts: Mapping[_Key, int],
    min_cell: int,
    most: Mapping[_Key, int] | None = None,
    hide: Collection[_Key] = (),
) -> dict[_Key, ShownCount]:
    """Counts that add up to a total which is shown, each as it may be shown.

    If a small count could be computed from the others, another is hidden too: first a zero, of
    which "under 5" is true as well, then the smallest that is shown. Those to `hide` are hidden in
    any case. `most` has what a reader knows each count to be at most, if anything. If the total
    itself is small, it must be hidden too.
    """
    # What a reader knows each count to be at most if it is shown as small.
    capped = {key: min(min_cell - 1, most[key]) if most else min_cell - 1 for key in counts}
    small = (key for key, count in counts.items() if 0 < count < min_cell)
    hidden: dict[_Key, int | None] = {**dict.fromkeys(hide), **{key: capped[key] for key in small}}
    while hidden and _can_be_computed(counts, hidden):
        cover = _next_cover(counts, hidden, capped)
        if cover is None:
            hidden = dict.fromkeys(counts)
            break
        hidden[cover] = capped[cover] if counts[cover] == 0 else None
    under = ShownCount(None, under_words(min_cell))
    unshown = {key: under if cap is not None else _UNSHOWN for key, cap in hidden.items()}
    return {key: unshown.get(key, ShownCount(n, f"{n:,}")) for key, n in counts.items()}


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
    falling = {key for key in hidden if counts[key]}
    rising = {key for key, most in hidden.items() if most is None or counts[key] < most}
    # A count can be less only if another is more, and more only if another is less.
    return any(rising <= {key} and (key not in rising or falling == {key}) for key in falling)


def shown_moves(
    before: int, after: int, moved: MovedRows, min_cell: int, *, hide: bool = False
) -> tuple[ShownCount, ...]:
    """The orders that each of two policies finds, and that one of them alone does, as they may be
    shown; `hide` where other counts would give `before` away.

    INVARIANT: before - only_before = after - only_after, the orders found by both. So of the four
    not one alone is hidden, and not two of which only one pair of small numbers fits.
    """
    ends = shown_count(before, min_cell), shown_count(after, min_cell)
    parts = [shown_count(count, min_cell) for count in moved]
    hidden = sum(shown.value is None for shown in (*ends, *parts))
    if not hidden and not hide:
        return (*ends, *parts)
    fits = abs(moved.only_after - moved.only_before) < min_cell - 1
    if hide and ends[0].value is not None:
        ends, parts = (_UNSHOWN, ends[1]), [_UNSHOWN] * 2
    elif hidden == 1 or not fits:
        parts = [_UNSHOWN] * 2
    return (*ends, *parts)
