"""Writes a message as JSON, as schemas/message.schema.json describes it.

Names, order and form of the members. Never wording.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.ask import words
from orderlint.report.order.json import not_checked_members, report_text
from orderlint.report.visible_text import safe
from orderlint.report.words import CAUTION, instant_words

if TYPE_CHECKING:
    from orderlint.message import Message, Point
    from orderlint.report.order.json import Member


def render(message: Message, at: int) -> str:
    """The message, ending in a line feed. `at` is the instant of checking, in ms since 1970 UTC."""
    verified = message.verified
    said = bool(message.points)
    members: dict[str, Member] = {
        "file": safe(verified.file),
        "document": "order",
        "checked_at": instant_words(at),
        "verdict": verified.assessment.verdict.value,
        "not_checked": not_checked_members(verified.not_checked),
        "to": message.whom,
        "running": message.running,
        "situation": safe(words.situation(message)) if said else "",
        "background": words.background(message) if said else "",
        "assessment": [safe(text) for text in words.assessment(message)],
        "request": [safe(text) for text in words.request(message)] if said else [],
        "closing": words.CLOSING if said else "",
        "points": [_point(point) for point in message.points],
        "left": [_point(point) for point in message.deferred],
        "elsewhere": [{"to": whom, "points": count} for whom, count in message.for_others],
        "caution": CAUTION,
    }
    return report_text(members)


def _point(point: Point) -> Member:
    return {
        "level": point.level.value,
        "rules": [*point.rules],
        "says": safe(point.says),
        "ask": safe(point.ask),
    }
