"""The counts of two policies side by side, small ones hidden with those that give them away.

Never a word, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.audit.small_cells import NOT_SHOWN, Shown, shown_count

if TYPE_CHECKING:
    from orderlint.audit.model import Moved


class ShownMoves(NamedTuple):
    """How many orders are found by each of two policies, and by one of them alone."""

    before: Shown
    after: Shown
    only_before: Shown
    only_after: Shown


def shown_moves(
    before: int, after: int, moved: Moved, min_cell: int, *, hide: bool = False
) -> ShownMoves:
    """The counts as they may be shown; `hide` where other counts would give `before` away.

    INVARIANT: before - only_before = after - only_after, the orders found by both. So of the four
    not one alone is hidden, and not two of which only one pair of small numbers fits.
    """
    ends = shown_count(before, min_cell), shown_count(after, min_cell)
    parts = [shown_count(count, min_cell) for count in moved]
    hidden = sum(shown.value is None for shown in (*ends, *parts))
    unshown = Shown(None, NOT_SHOWN)
    if not hidden and not hide:
        return ShownMoves(*ends, *parts)
    fits = abs(moved.only_after - moved.only_before) < min_cell - 1
    if hide and ends[0].value is not None:
        ends, parts = (unshown, ends[1]), [unshown] * 2
    elif hidden == 1 or not fits:
        parts = [unshown] * 2
    return ShownMoves(*ends, *parts)
