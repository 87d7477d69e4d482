"""Makes faults of differing settings, of who looked, and of when.

One fault for one cause. Never a rule's own words, and never a verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import casefold_spaces, in_sentence
from orderlint.fields import field_table
from orderlint.finding import Fault, Inactive, Unchecked
from orderlint.quantity_words import format_duration
from orderlint.readback.differences import Outcome, SettingComparison
from orderlint.templates import quote, quote_both_units

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from orderlint.language.types import Quantity
    from orderlint.order import Leaf, Order
    from orderlint.rulebook.rule import Rulebook

RULES = {
    Outcome.OTHER_UNIT: "seen-unit-differs",
    Outcome.DIFFERS: "seen-differs",
    Outcome.MISSING: "seen-missing",
    Outcome.NOT_ORDERED: "seen-not-ordered",
    Outcome.ROUNDED: "seen-rounded",
}
INDEPENDENT, AGE = "checker-not-independent", "seen-too-old"
ENDED, PAST_REVIEW = "read-back-of-ended-order", "read-back-past-review"
_LONGEST = "readback_age_max"
_CALLED = {INDEPENDENT: ("keyed_by", "seen_by"), AGE: ("seen_at",)}


def readback_faults(
    rows: Iterable[SettingComparison], order: Order, seen: Order, at: int, rulebook: Rulebook
) -> Iterator[Fault]:
    """The faults of a comparison, as of the instant `at`."""
    for row in rows:
        if row.outcome in RULES:
            yield _of_row(row, order)
    yield from _of_checker(order, seen.leaves)
    yield from _of_age(seen.leaves["seen_at"], at, rulebook)
    yield from _of_order(order.leaves["status"], order.leaves["review_by"], seen.leaves["seen_at"])


def _of_row(row: SettingComparison, order: Order) -> Fault:
    details = {
        "name": in_sentence(field_table().display_name(row.path)),
        "ordered": quote_both_units(row.ordered, row.seen),
        "seen": quote_both_units(row.seen, row.ordered),
        "step": row.step.text if row.step else "",
    }
    place = row.ordered.place or row.seen.place or order.place_of(row.path)
    return Fault(RULES[row.outcome], row.path, row.ordered.text, place, details)


def _of_checker(order: Order, seen: Mapping[str, Leaf]) -> Iterator[Fault]:
    checker = seen["seen_by"]
    others = ((seen["keyed_by"], "keyed the settings in"), (order.leaves["prescriber"], _WROTE))
    for other, role in others:
        if _is_same(checker, other):
            details = {"checker": quote(checker.text), "role": role}
            place = checker.place or order.place_of("")
            yield Fault(INDEPENDENT, "seen_by", checker.text, place, details)
            return


_WROTE = "wrote the order"


def _is_same(one: Leaf, other: Leaf) -> bool:
    return one.known and other.known and casefold_spaces(one.text) == casefold_spaces(other.text)


def _of_age(seen_at: Leaf, at: int, rulebook: Rulebook) -> Iterator[Fault]:
    longest = longest_age(rulebook)
    if longest is None or not isinstance(seen_at.value, int):
        return
    age = at - seen_at.value
    if not 0 <= age <= longest.ticks:
        words = f"{format_duration(age)} before" if age > 0 else "later than"
        details = {
            "age": f"{words} they are compared",
            "seen_at": quote(seen_at.text),
            "longest": longest.text,
        }
        assert seen_at.place is not None  # INVARIANT: a known leaf has its place
        yield Fault(AGE, "seen_at", seen_at.text, seen_at.place, details)


def _of_order(status: Leaf, review_by: Leaf, seen_at: Leaf) -> Iterator[Fault]:
    """The faults of an order that was over, by status or review time, when settings were seen."""
    if status.value == "ended":
        assert status.place is not None  # INVARIANT: a known leaf has its place
        yield Fault(ENDED, status.path, status.text, status.place)
    due, seen = review_by.value, seen_at.value
    if isinstance(due, int) and isinstance(seen, int) and due < seen:
        details = {"seen_at": quote(seen_at.text), "review_by": quote(review_by.text)}
        assert review_by.place is not None  # INVARIANT: a known leaf has its place
        yield Fault(PAST_REVIEW, review_by.path, review_by.text, review_by.place, details)


def longest_age(rulebook: Rulebook) -> Quantity | None:
    """How long what was seen counts; None where the policy leaves that out."""
    return rulebook.values[_LONGEST].quantity_for(None)


def readback_unchecked(
    rows: Iterable[SettingComparison], order: Order, seen: Mapping[str, Leaf], rulebook: Rulebook
) -> Iterator[Unchecked]:
    """The rules that could not be checked, with the missing settings."""
    missing = {RULES[Outcome.DIFFERS]: [row.path for row in rows if row.outcome is Outcome.OPEN]}
    for rule, paths in _CALLED.items():
        asked = rule != AGE or longest_age(rulebook) is not None
        missing[rule] = [path for path in paths if asked and not seen[path].known]
    status, review_by = order.leaves["status"], order.leaves["review_by"]
    missing[ENDED] = [status.path] if status.given and not status.known else []
    times = (review_by, seen["seen_at"]) if review_by.given else ()
    missing[PAST_REVIEW] = [leaf.path for leaf in times if not leaf.known]
    for rule, lack in missing.items():
        if lack:
            yield Unchecked(rule, rulebook.rules[rule].level, tuple(lack))


def readback_inactive(rulebook: Rulebook) -> Iterator[Inactive]:
    """The rule that is not asked if the policy gives no value for it."""
    if longest_age(rulebook) is None:
        yield Inactive(AGE, f"the policy gives no {rulebook.values[_LONGEST].called}")
