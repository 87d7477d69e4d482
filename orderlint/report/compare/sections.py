"""What a comparison of two orders says in each section, line by line, for its text and its page.

Sentences not yet wrapped or made safe. Never a decision, and never a layout.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.compare import words
from orderlint.report.order import words as order_words
from orderlint.report.part import Part, part_of
from orderlint.report.words import ALREADY_RUNNING, instant_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.comparison.orders import ComparedOrders


def running(found: ComparedOrders) -> str:
    """What not to do where there is something to settle while staff may have either running."""
    settle = (
        found.assessment.findings
        or found.assessment.unchecked
        or found.after.assessment.findings
        or found.after.assessment.unchecked
    )
    is_active = words.is_active(found)
    may_be = bool(settle) if is_active else order_words.may_be_running(found.after)
    return ALREADY_RUNNING if may_be else ""


def documents(found: ComparedOrders) -> tuple[str, str]:
    """Which two orders they are."""
    before, after = map(order_words.document_words, (found.before, found.after))
    return f"Before: {before}", f"Now: {after}"


def notes(found: ComparedOrders) -> list[str]:
    """What stands beneath the verdict."""
    left = (*found.assessment.unchecked, *found.after.assessment.unchecked)
    hidden = (*found.assessment.suppressed, *found.after.assessment.suppressed)
    return [
        words.verdict_words(found)[1],
        *words.own_words(found),
        *order_words.unchecked_weight(left),
        *order_words.suppressed_weight(hidden),
    ]


def parts(found: ComparedOrders) -> Iterator[Part]:
    """What is changed, what that does, and what could not be checked of it."""
    yield part_of("What is changed", words.change_words(found), "No setting is changed.")
    yield part_of("Facts of signing", words.signed_words(found), "They are the same.")
    yield part_of("What the controller would do otherwise, by ICP", words.stretch_words(found))
    yield part_of("Each order by itself", _by_itself(found))
    yield part_of(
        order_words.UNCHECKED,
        words.unchecked_words(found),
        "Every rule that was asked of the change could be checked.",
    )


def not_asked(found: ComparedOrders) -> Iterator[Part]:
    """Only a policy that leaves out a value can keep a rule on changes from being asked."""
    lines = tuple(order_words.inactive_words(found.assessment.inactive))
    if lines:
        yield Part(order_words.NOT_ASKED, lines)


def checked(found: ComparedOrders, at: int) -> Part:
    """What was compared, and by what; `at` is in milliseconds since 1970 UTC."""
    count, each = found.assessment.rules, found.after.assessment.rules
    rules = "1 rule" if count == 1 else f"{count} rules"
    said = (
        f"{found.before.file} and {found.after.file} as orders, setting by setting, by {rules} on "
        f"changes, and each by {each} rules on orders, under “{found.after.policy}”, "
        f"as of {instant_words(at)}."
    )
    return Part(order_words.CHECKED, (said, words.COVERS))


def _by_itself(found: ComparedOrders) -> Iterator[str]:
    yield f"Before: {words.by_itself(found.before)}"
    yield f"Now: {words.by_itself(found.after)} In full: orderlint verify."
