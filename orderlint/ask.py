"""Findings → what to ask one person, few enough to be said in one breath.

Chooses and joins. Never a word of the message beside the findings' own, never a value.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import in_sentence
from orderlint.finding import Level

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from orderlint.finding import Finding
    from orderlint.verify import Verified

MOST_POINTS = 3
"""Points in one message: whoever listens answers each before the next."""
MOST_WORDS = 42
"""Words that the points may have together, beside the message's own; the first may have more."""
MOST_NAMED = 6
"""Settings that are not written which one point names."""
_MISSING = "complete"


class Point(NamedTuple):
    """One thing to ask: what is written, the question, and the rules that it comes from."""

    level: Level
    says: str
    ask: str
    rules: tuple[str, ...]


class Message(NamedTuple):
    """What to ask `whom` about one order.

    `points` are to be said now, the heaviest first; `left` are for after the answers. `elsewhere`
    has for each other person the number of points that only they can answer. `running` says that
    the order is active.
    """

    whom: str
    verified: Verified
    points: tuple[Point, ...]
    left: tuple[Point, ...]
    elsewhere: tuple[tuple[str, int], ...]
    running: bool


def message_to(whom: str, verified: Verified) -> Message:
    """The message to one of those that findings ask: prescriber, pharmacy, second nurse, author."""
    by_whom: dict[str, list[Finding]] = {whom: []}
    for finding in verified.findings:
        by_whom.setdefault(finding.ask_whom, []).append(finding)
    points = tuple(_points(by_whom.pop(whom)))
    said = _said(points)
    others = ((other, len(list(_points(found)))) for other, found in by_whom.items())
    running = verified.order.leaves["status"].value == "active"
    return Message(whom, verified, points[:said], points[said:], tuple(others), running)


def _points(findings: list[Finding]) -> Iterator[Point]:
    """A point a finding; the settings that are not written are one, at their heaviest place."""
    for level in Level:
        for finding in findings:
            if finding.level is level and finding.family != _MISSING:
                yield Point(level, finding.says, finding.ask, (finding.rule,))
        missing = [f for f in findings if f.family == _MISSING and f.level is level]
        if missing:
            yield _not_written(level, missing)


def _not_written(level: Level, missing: list[Finding]) -> Point:
    names = list(dict.fromkeys(in_sentence(finding.name) for finding in missing))
    shown, more = names[:MOST_NAMED], len(names) - MOST_NAMED
    listed = ", ".join(shown) + (f" and {more} more" if more > 0 else "")
    ask = "What is it to be?" if len(names) == 1 else "What are they to be?"
    return Point(level, f"Not written: {listed}.", ask, tuple(f.rule for f in missing))


def _said(points: Iterable[Point]) -> int:
    """How many of the points are said at once: as many as fit, and one at least."""
    words = said = 0
    for point in points:
        words += words_in(point.says, point.ask)
        if said == MOST_POINTS or (said and words > MOST_WORDS):
            break
        said += 1
    return said


def words_in(*texts: str) -> int:
    """Words as they are said: what is a blank or a mark alone is none."""
    return sum(any(c.isalnum() for c in word) for text in texts for word in text.split())
