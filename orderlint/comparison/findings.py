"""What is found in a change that no condition could say: of names, and of all settings at once.

Faults and what could not be checked, without words. Never a condition of the rulebook.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.comparison.setting_changes import ChangeKind
from orderlint.fields import BEFORE
from orderlint.finding import Fault, Unchecked
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.comparison.setting_changes import SettingChange
    from orderlint.order import Leaf, Order
    from orderlint.rulebook.rule import Rulebook

_ID, _REVISION, _REVIEW = "order-id-differs", "revision-not-later", "unchanged-past-review"
_PATHS = {_ID: "id", _REVISION: "revision", _REVIEW: "review_by"}


def change_faults(
    before: Order, after: Order, settings: Sequence[SettingChange], at: int
) -> Iterator[Fault]:
    """What is found, as of the instant `at` in milliseconds since 1970 UTC."""
    for rule, path in _PATHS.items():
        if _is_broken(rule, before, after, settings, at):
            old, new = before.leaves[path], after.leaves[path]
            details = {"before": quote(old.text), "after": quote(new.text)}
            yield Fault(rule, path, new.text, after.place_of(path), details)


def change_unchecked(
    before: Order, after: Order, settings: Sequence[SettingChange], at: int, rulebook: Rulebook
) -> Iterator[Unchecked]:
    """Which of these rules could not be judged, and for lack of which settings."""
    for rule, path in _PATHS.items():
        if _is_broken(rule, before, after, settings, at) is None:
            lacking = [row.path for row in settings if rule == _REVIEW]
            for leaf, written in (
                (before.leaves[path], f"{BEFORE}{path}"),
                (after.leaves[path], path),
            ):
                if leaf.given and not leaf.known:
                    lacking.append(written)
            yield Unchecked(rule, rulebook.rules[rule].level, tuple(lacking))


def _is_broken(
    rule: str, before: Order, after: Order, settings: Sequence[SettingChange], at: int
) -> bool | None:
    """Whether a rule is broken; None where what decides cannot be read."""
    differs = _differs(before.leaves["id"], after.leaves["id"])
    if rule == _ID:
        return differs
    if rule == _REVISION:
        return not differs and _is_not_later(before.leaves["revision"], after.leaves["revision"])
    return _is_unchanged_past_review(before, after, settings, at)


def _differs(old: Leaf, new: Leaf) -> bool:
    return old.known and new.known and old.value != new.value


def _is_not_later(old: Leaf, new: Leaf) -> bool | None:
    if not old.given or not new.given:
        return False
    one, other = _integer(old), _integer(new)
    return None if one is None or other is None else other <= one


def _is_unchanged_past_review(
    before: Order, after: Order, settings: Sequence[SettingChange], at: int
) -> bool | None:
    past = _goes_past(before.leaves["review_by"], after.leaves["review_by"], at)
    if past is False or any(row.kind is not ChangeKind.OPEN for row in settings):
        return False
    return None if settings else past


def _goes_past(old: Leaf, new: Leaf, at: int) -> bool | None:
    """Whether an order is carried on past the review that was due in the earlier."""
    if not old.given:
        return False
    due, until = _integer(old), _integer(new)
    if due is None:
        return None
    if at > due or not new.given:
        return True
    return None if until is None else until > due


def _integer(leaf: Leaf) -> int | None:
    return leaf.value if isinstance(leaf.value, int) else None
