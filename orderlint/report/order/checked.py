"""The words of what was checked at the end of a report on an order: by what, when, and what not.

Whole sentences, not yet wrapped or escaped. Never a finding.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.report.words import FREE_TEXT, FREE_TEXT_BRIEF, counted, instant_words, minute_words
from orderlint.rulebook.standing_orders import filled_in
from orderlint.templates import quote

if TYPE_CHECKING:
    from collections.abc import Iterable

    from orderlint.order import Leaf
    from orderlint.verification import Verified

FROM_POLICY = "What the order does not say is from the policy"


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
    names = field_table().display_name
    lines = (f"{in_sentence(names(leaf.path))} {quote(leaf.text)}" for leaf in leaves)
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
