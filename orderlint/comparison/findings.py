"""What is found in a change that no condition could say: of names, and of all settings at once.

Faults and what could not be checked, without words. Never a condition of the rulebook.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.comparison.setting_changes import ChangeKind, SettingChange
from orderlint.fields import BEFORE
from orderlint.finding import Fault, Unchecked
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from orderlint.order import Leaf, Order
    from orderlint.rulebook.rule import Rulebook

_REVIEW = "unchanged-past-review"
_PATHS = {"order-id-differs": "id", "revision-not-later": "revision", _REVIEW: "review_by"}


def found_in_change(
    before: Order, after: Order, settings: Sequence[SettingChange], at: int, rulebook: Rulebook
) -> tuple[list[Fault], list[Unchecked]]:
    """What is found, as of the instant `at` in milliseconds since 1970 UTC, and which of these
    rules could not be judged, with the settings that are missing.
    """
    faults, unchecked = [], []
    for rule, is_broken in _judged(before.leaves, after.leaves, settings, at).items():
        path = _PATHS[rule]
        old, new = before.leaves[path], after.leaves[path]
        if is_broken:
            details = {"before": quote(old.text), "after": quote(new.text)}
            faults.append(Fault(rule, path, new.text, after.place_of(path), details))
        elif is_broken is None:
            lacking = [row.path for row in settings if rule == _REVIEW]
            read = {f"{BEFORE}{path}": old, path: new}
            lacking += [name for name, leaf in read.items() if leaf.given and not leaf.known]
            unchecked.append(Unchecked(rule, rulebook.rules[rule].level, tuple(lacking)))
    return faults, unchecked


def _judged(
    old: Mapping[str, Leaf], new: Mapping[str, Leaf], settings: Sequence[SettingChange], at: int
) -> dict[str, bool | None]:
    """Whether each rule is broken; None where what decides cannot be read."""
    differs = _differs(old["id"], new["id"])
    is_not_later = not differs and _is_not_later(old["revision"], new["revision"])
    past = _goes_past(old["review_by"], new["review_by"], at)
    if past is not False and settings:
        is_open = all(row.kind is ChangeKind.OPEN for row in settings)
        past = None if is_open else False
    return dict(zip(_PATHS, (differs, is_not_later, past), strict=True))


def _differs(old: Leaf, new: Leaf) -> bool:
    return old.known and new.known and old.value != new.value


def _is_not_later(old: Leaf, new: Leaf) -> bool | None:
    if not old.given or not new.given:
        return False
    one, other = old.number, new.number
    return None if one is None or other is None else other <= one


def _goes_past(old: Leaf, new: Leaf, at: int) -> bool | None:
    """Whether an order is carried on past the review that was due in the earlier."""
    if not old.given:
        return False
    due, until = old.number, new.number
    if due is None:
        return None
    if at > due or not new.given:
        return True
    return None if until is None else until > due
