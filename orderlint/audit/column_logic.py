"""Three-valued logic on columns of truths, in which True and False stand for a whole column.

A truth is two Boolean columns, one value a row (strong Kleene logic). Knows no rule and no field.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterable

Mask: TypeAlias = bool | pl.Series
"""A truth for each row: a Boolean series without nulls, or one truth for all rows."""


class Truth(NamedTuple):
    """An outcome for each row: where it is true, and where it is false; unknown in neither."""

    true: Mask
    false: Mask

    @property
    def known(self) -> Mask:
        """Where it is not unknown."""
        return either(self.true, self.false)


KNOWN_TRUE, KNOWN_FALSE, UNKNOWN = Truth(True, False), Truth(False, True), Truth(False, False)


def constant(truth: bool | None) -> Truth:
    """One outcome for all rows."""
    return UNKNOWN if truth is None else KNOWN_TRUE if truth else KNOWN_FALSE


def truth_of(series: pl.Series) -> Truth:
    """The outcomes in a Boolean series, in which null is unknown."""
    if not series.null_count():
        return Truth(series, ~series)
    return Truth(series.fill_null(value=False), (~series).fill_null(value=False))


def both(left: Mask, right: Mask) -> Mask:
    """Where both are true."""
    if left is False or right is False:
        return False
    return right if left is True else left if right is True else left & right


def either(left: Mask, right: Mask) -> Mask:
    """Where one of the two is true, or both."""
    if left is True or right is True:
        return True
    return right if left is False else left if right is False else left | right


def opposite(mask: Mask) -> Mask:
    """Where it is not true."""
    return not mask if isinstance(mask, bool) else ~mask


def without(left: Mask, right: Mask) -> Mask:
    """Where the first is true and the second is not."""
    return both(left, opposite(right))


def any_of(masks: Iterable[Mask]) -> Mask:
    """Where one is true; nowhere, of none."""
    found: Mask = False
    for mask in masks:
        found = either(found, mask)
    return found


def all_of(masks: Iterable[Mask]) -> Mask:
    """Where each is true; everywhere, of none."""
    found: Mask = True
    for mask in masks:
        found = both(found, mask)
    return found


def rows_true(mask: Mask, rows: int) -> int:
    """In how many of `rows` it is true."""
    return int(mask) * rows if isinstance(mask, bool) else int(mask.sum())


def as_series(mask: Mask, rows: int) -> pl.Series:
    """The mask as a Boolean series of `rows`."""
    if isinstance(mask, pl.Series):
        return mask
    return pl.Series([mask], dtype=pl.Boolean).new_from_index(0, rows)


def at_rows(numbers: pl.Series, rows: int) -> pl.Series:
    """A mask that is true in the rows with these numbers, counted from 0."""
    return pl.Series([False], dtype=pl.Boolean).new_from_index(0, rows).scatter(numbers, True)
