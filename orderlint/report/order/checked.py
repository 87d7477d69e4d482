"""The words of what was checked of an order, by what and when, and of what could not be checked.

Whole sentences, not yet wrapped or escaped. Never a finding, and never why a rule was not asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.order.segment_words import list_missing
from orderlint.report.words import (
    FREE_TEXT,
    FREE_TEXT_BRIEF,
    LEVELS,
    counted,
    instant_words,
    minute_words,
    name_of,
)
from orderlint.rulebook.standing_orders import filled_in
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from orderlint.finding import Level, Unchecked
    from orderlint.order import Leaf
    from orderlint.verification import Verified

FROM_POLICY = "What the order does not say is from the policy"
MOST_REASONS = 8
"""The most reasons for which rules could not be checked that a report of one screen names."""


def checked_words(verified: Verified, at: int) -> str:
    """What was checked, by what, and as of when, in a sentence."""
    return (
        f"{verified.file} as an order, by the schema of orders (order, format 1) and "
        f"{counted(verified.assessment.rules, 'rule')}, under “{verified.policy}”, as of "
        f"{instant_words(at)}."
        f"{policy_words(verified)} {FREE_TEXT}"
    )


def policy_words(verified: Verified) -> str:
    """Where the policy lets more orders pass, and what the order has from it, after a blank."""
    weaker = f" It is weaker than the built-in policy in: {', '.join(verified.weaker)}."
    return (weaker if verified.weaker else "") + standing_words(verified)


def standing_words(verified: Verified) -> str:
    """What the order has from the policy's standing orders, after a blank; '' if nothing."""
    lines = [*filled_in(verified.order)]
    return f" {FROM_POLICY}: {standing_lines(verified.paper, lines)}." if lines else ""


def standing_lines(paper: str, leaves: Iterable[Leaf]) -> str:
    """The lines of standing orders with the name of their paper."""
    lines = (f"{name_of(leaf.path)} {quote(leaf.text)}" for leaf in leaves)
    return f"{', '.join(lines)} ({quote(paper)})"


def briefly_checked(verified: Verified, at: int | None) -> str:
    """How many rules were asked, under which policy and when, and how the rest is had."""
    assessment = verified.assessment
    rules = counted(assessment.rules, "rule")
    when = f", as of {minute_words(at, _offset(verified))}" if at is not None else ""
    unchecked, inactive = len(assessment.unchecked), len(assessment.inactive)
    checked = f"{unchecked} left open" if unchecked else "none left open"
    unasked = f"; {inactive} not asked" if inactive else ""
    return (
        f"{rules} asked under “{verified.policy}”{when}: {checked}{unasked}."
        f"{policy_words(verified)} {FREE_TEXT_BRIEF} More: --detail."
    )


def _offset(verified: Verified) -> int:
    """The offset from UTC that the order's times are written with, in minutes; 0 without a time."""
    from datetime import datetime, timedelta  # noqa: PLC0415 - cold start

    for path in ("starts", "written", "review_by"):
        leaf = verified.order.leaves[path]
        written = datetime.fromisoformat(leaf.text).utcoffset() if leaf.known else None
        if written is not None:
            return written // timedelta(minutes=1)
    return 0


def unchecked_weight(unchecked: Sequence[Unchecked]) -> Iterator[str]:
    """How many rules could not be checked and the heaviest of them, if there are any."""
    if unchecked:
        heaviest = LEVELS[_heaviest(unchecked)]
        count = counted(len(unchecked), "rule")
        yield f"{count} could not be checked; the heaviest would be {heaviest}."


def unchecked_words(unchecked: Iterable[Unchecked], leaves: Mapping[str, Leaf]) -> Iterator[str]:
    """The unchecked rules, a line for each group of missing settings."""
    for rules in _by_reason(unchecked):
        (_, _, paths, why), ids = rules[0], ", ".join(rule.rule for rule in rules)
        heaviest = LEVELS[_heaviest(rules)]
        heavy = heaviest if len(rules) == 1 else f"the heaviest {heaviest}"
        count = counted(len(rules), "rule")
        reason = why or f"For lack of {list_missing(paths, leaves)}"
        yield f"{reason}: {count}, {heavy}: {ids}."


def few_unchecked_words(
    unchecked: Iterable[Unchecked], leaves: Mapping[str, Leaf]
) -> Iterator[str]:
    """The same, as far as it fits a screen: the heaviest, and how many rules there are beside."""
    groups = _by_reason(unchecked)
    if len(groups) <= MOST_REASONS:
        yield from unchecked_words(unchecked, leaves)
        return
    heaviest_first = sorted(groups, key=lambda rules: (not rules[0].why, -_heaviest(rules).weight))
    shown, others = heaviest_first[:MOST_REASONS], heaviest_first[MOST_REASONS:]
    yield from unchecked_words([rule for rules in shown for rule in rules], leaves)
    yield f"And {counted(sum(map(len, others)), 'rule')} more, for lack of other settings."


def _by_reason(unchecked: Iterable[Unchecked]) -> list[list[Unchecked]]:
    groups: dict[tuple[str, tuple[str, ...]], list[Unchecked]] = {}
    for rule in unchecked:
        groups.setdefault((rule.why, rule.missing), []).append(rule)
    return [*groups.values()]


def _heaviest(unchecked: Iterable[Unchecked]) -> Level:
    return max((rule.level for rule in unchecked), key=lambda level: level.weight)
