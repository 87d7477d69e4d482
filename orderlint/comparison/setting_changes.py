"""Two orders setting by setting: which are changed, and how.

Whole ticks throughout. Never a rule, a word or a verdict.
"""

from __future__ import annotations

import enum
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import field_table
from orderlint.order import Leaf, State
from orderlint.units import dimension_of_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.field import Field

_ADDITIVE = "irrigation.additive"


class ChangeKind(enum.Enum):
    """How a setting differs between two orders."""

    CHANGED = "changed"
    UNIT_ALONE = "another unit, the same amount"
    ADDED = "not written before"
    LEFT_OUT = "no longer written"
    OPEN = "could not be compared"


class SettingChange(NamedTuple):
    """A setting that is not the same in two orders.

    `factor` is how many times as much it is now, None where that says nothing: of what is no
    quantity, or where one of the two is not above zero.
    """

    path: str
    kind: ChangeKind
    before: Leaf
    after: Leaf
    factor: Fraction | None = None


def setting_changes(
    before: Mapping[str, Leaf], after: Mapping[str, Leaf]
) -> Iterator[SettingChange]:
    """Every setting that differs or could not be compared, in the order of the form."""
    for path in field_table().fields:
        old, new = before[path], after[path]
        how = _change_kind(old, new)
        if how is not None and not _is_word_for_parts(path, how, before, after):
            yield SettingChange(
                path, how, old, new, _factor(old, new) if how is ChangeKind.CHANGED else None
            )


def _change_kind(old: Leaf, new: Leaf) -> ChangeKind | None:
    if not old.given and not new.given:
        return None
    if State.UNREADABLE in {old.state, new.state}:
        return ChangeKind.OPEN
    if not old.given:
        return ChangeKind.ADDED
    if not new.given:
        return ChangeKind.LEFT_OUT
    field = field_table().fields[old.path]
    if _key(field, old) != _key(field, new):
        return ChangeKind.CHANGED
    return None if old.unit == new.unit else ChangeKind.UNIT_ALONE


def _key(field: Field, leaf: Leaf) -> int | str:
    return field.comparison_key(leaf.value, leaf.text, leaf.unit)


def _is_word_for_parts(
    path: str, how: ChangeKind, before: Mapping[str, Leaf], after: Mapping[str, Leaf]
) -> bool:
    """Whether it is the word for no additive, which makes way for one or takes its place."""
    if path != _ADDITIVE or how not in {ChangeKind.ADDED, ChangeKind.LEFT_OUT}:
        return False
    other = before if how is ChangeKind.ADDED else after
    return any(other[part].given for part in field_table().sections[_ADDITIVE])


def _factor(old: Leaf, new: Leaf) -> Fraction | None:
    """How many times as much; None where that says nothing."""
    if old.unit is None or new.unit is None:
        return None
    if dimension_of_unit(old.unit) != dimension_of_unit(new.unit):
        return None
    if not isinstance(old.value, int) or not isinstance(new.value, int):
        return None
    return Fraction(new.value, old.value) if old.value > 0 and new.value > 0 else None
