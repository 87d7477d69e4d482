"""Two orders in; what the second changes, what that does, and what is found in the change out.

Joins settings, behaviour, the rules on changes and the verdict on each order. Never prints.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from orderlint.assessment import Assessment, Check, assess
from orderlint.behaviour import Difference, find_differences
from orderlint.comparison.setting_changes import ChangeKind, SettingChange, setting_changes
from orderlint.conditions import change_conditions
from orderlint.fields import BEFORE, CHECKED_AT
from orderlint.finding import Fault, NotChecked, Unchecked, Verdict, heaviest_verdict
from orderlint.language.evaluate import evaluate
from orderlint.order import SIGNING_FIELDS, Leaf, Order, State, with_earlier
from orderlint.rulebook.rule import ChangeRule, Rulebook
from orderlint.rulebook.standing_orders import filled
from orderlint.templates import quote
from orderlint.verification import Verified, verify_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

_ON_UNITS = "unit-changed"
_REVIEW = "unchanged-past-review"
_PATHS = {"order-id-differs": "id", "revision-not-later": "revision", _REVIEW: "review_by"}


@dataclass(frozen=True, slots=True)
class ComparedOrders:
    """All that is found in the change from one order to another.

    `settings` are those that differ, `signed` the facts of signing among them apart. `differences`
    are the pressures at which the controller would act otherwise. `assessment` is of the change
    alone, under `rulebook`; `before` and `after` are what each order is by itself. `leaves` has
    those of both, the earlier under `before.`. `reworded` are the paths of levels that are in the
    unit of another display and moved by no more than a step of it.
    """

    before: Verified
    after: Verified
    leaves: Mapping[str, Leaf]
    settings: tuple[SettingChange, ...]
    signed: tuple[SettingChange, ...]
    differences: tuple[Difference, ...]
    assessment: Assessment
    rulebook: Rulebook
    reworded: frozenset[str] = frozenset()

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """The free texts of the later order that are not checked."""
        return self.after.not_checked

    @property
    def verdict(self) -> Verdict:
        """The heaviest verdict of the change and of the later order."""
        return heaviest_verdict((self.assessment.verdict, self.after.assessment.verdict))


def compare_orders(before: Order, after: Order, at: int, rulebook: Rulebook) -> ComparedOrders:
    """Compare two orders as of `at`, milliseconds since 1970 UTC.

    `rulebook` has the rules on changes, as `load("change")` gives it.
    """
    before, after = (filled(order, rulebook.standing_orders) for order in (before, after))
    rows = tuple(setting_changes(before.leaves, after.leaves))
    settings = tuple(row for row in rows if row.path not in SIGNING_FIELDS)
    leaves = {
        **with_earlier(after.leaves, before.leaves),
        CHECKED_AT: Leaf(CHECKED_AT, State.KNOWN, at),
    }
    faults, unchecked = _found_by_code(before, after, settings, at, rulebook)
    asked = change_conditions(rulebook)
    by_code = [rule for rule in rulebook.rules.values() if rule.found_by == "compare"]
    check = Check(
        conditions=asked,
        rules=sum(1 for rule in asked.rules if not rule.inactive) + len(by_code),
        faults=tuple(faults),
        unchecked=tuple(unchecked),
    )
    first, second = (verify_order(order, at, rulebook) for order in (before, after))
    tables = first.behaviour, second.behaviour
    return ComparedOrders(
        first,
        second,
        leaves,
        settings,
        tuple(row for row in rows if row.path in SIGNING_FIELDS),
        () if any(table.missing for table in tables) else tuple(find_differences(*tables)),
        assess(check, after, leaves, at, rulebook),
        rulebook,
        frozenset(_reworded(settings, leaves, rulebook)),
    )


def _found_by_code(
    before: Order, after: Order, settings: Sequence[SettingChange], at: int, rulebook: Rulebook
) -> tuple[list[Fault], list[Unchecked]]:
    """What no condition could say, of names and of all settings at once; and which of these rules
    could not be judged, with the settings that are missing.
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


def _reworded(
    settings: Iterable[SettingChange], leaves: Mapping[str, Leaf], rulebook: Rulebook
) -> Iterator[str]:
    """The levels of which the rule on units holds although their unit is another one."""
    rule = rulebook.rules[_ON_UNITS]
    assert isinstance(rule, ChangeRule)
    kept = {each.it for each in rule.instances if evaluate(each.condition, leaves)}
    for row in settings:
        units = {row.before.unit, row.after.unit}
        if row.path in kept and None not in units and len(units) > 1:
            yield row.path
