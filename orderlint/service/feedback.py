"""Reads what became of cards, as clients report it by CDS Hooks 2.0.

Takes the ids, the outcome and a reason that was offered. Never a comment, which may be about a
patient, nor any other text of a client's.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple

from orderlint.report.order.card import OVERRIDE_SYSTEM, OVERRIDES
from orderlint.service.plain_json import plain_json

if TYPE_CHECKING:
    from collections.abc import Mapping

OUTCOMES = ("accepted", "overridden")
MOST_AT_ONCE = 100
"""Outcomes in one report."""
_OFFERED = frozenset(code for code, _ in OVERRIDES)


class NotFeedbackError(ValueError):
    """A body that is no feedback."""


class Feedback(NamedTuple):
    """What became of one card.

    `reason` is the code of one of the reasons that cards offer; None where there is none, or
    another. `at` is when, in UTC.
    """

    card: str
    outcome: str
    reason: str | None
    at: datetime


def read_feedback(body: bytes) -> list[Feedback]:
    """The outcomes in a report, in its order. Raises NotFeedbackError where it is none."""
    try:
        said = plain_json(body)
    except ValueError:
        raise NotFeedbackError from None
    items = said.get("feedback") if isinstance(said, dict) else None
    if not isinstance(items, list) or not 0 < len(items) <= MOST_AT_ONCE:
        raise NotFeedbackError
    return [_outcome(item) for item in items]


def _outcome(item: object) -> Feedback:
    if not isinstance(item, dict) or item.get("outcome") not in OUTCOMES:
        raise NotFeedbackError
    return Feedback(
        _card(item.get("card")),
        item["outcome"],
        _reason(item.get("overrideReason")),
        _instant(item.get("outcomeTimestamp")),
    )


def _card(said: object) -> str:
    """The id of a card in its usual form."""
    try:
        return str(uuid.UUID(said if isinstance(said, str) else ""))
    except ValueError:
        raise NotFeedbackError from None


def _reason(said: object) -> str | None:
    coding = _section(_section(said).get("reason"))
    code = coding.get("code") if coding.get("system") == OVERRIDE_SYSTEM else None
    return code if isinstance(code, str) and code in _OFFERED else None


def _section(said: object) -> Mapping[str, object]:
    """An object; an empty one where there is none."""
    if said is None:
        return {}
    if not isinstance(said, dict):
        raise NotFeedbackError
    return said


def _instant(said: object) -> datetime:
    try:
        found = datetime.fromisoformat(said if isinstance(said, str) else "")
        if found.tzinfo is None:
            raise NotFeedbackError
        return found.astimezone(UTC).replace(microsecond=0)
    except (ValueError, OverflowError):
        raise NotFeedbackError from None
