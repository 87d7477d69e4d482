"""Findings → what to ask one person, few enough to be said in one breath.

Chooses and joins. Never a word of the message beside the findings' own, never a value.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.fields import in_sentence
from orderlint.finding import Level

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.finding import Finding
    from orderlint.verification import Verified

MOST_QUESTIONS = 3
"""Questions in one message: whoever listens answers each before the next."""
MOST_WORDS = 51
"""Words that the points may have together, beside the message's own."""
WHILE_RUNNING = 41
"""That number where it is first asked whether irrigation is to be held."""
NUMBERS = 2
"""Words that each of several points has more: its number, in what is said and in what is asked."""
MOST_ASKED = 20
"""Words that one question may have."""
IN_FULL = "The report has the rest."
"""What stands for what was left out of a point, that it can be said in one breath."""
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
    the order is active, `held` that whether irrigation is to be held is the first question.
    """

    whom: str
    verified: Verified
    points: tuple[Point, ...]
    left: tuple[Point, ...]
    elsewhere: tuple[tuple[str, int], ...]
    running: bool
    held: bool = False


def message_to(whom: str, verified: Verified) -> Message:
    """The message to one of those that findings ask: prescriber, pharmacy, second nurse, author."""
    by_whom: dict[str, list[Finding]] = {whom: []}
    for finding in verified.assessment.findings:
        by_whom.setdefault(finding.ask_whom, []).append(finding)
    findings = by_whom.pop(whom)
    running = verified.order.leaves["status"].value == "active"
    held = running and any(f.level is Level.DO_NOT_START for f in findings)
    most = WHILE_RUNNING if held else MOST_WORDS
    points = tuple(_points(findings, most))
    said = _said(points, MOST_QUESTIONS - held, most)
    others = ((other, len(list(_points(found)))) for other, found in by_whom.items())
    return Message(whom, verified, points[:said], points[said:], tuple(others), running, held)


def _points(findings: list[Finding], most: int = MOST_WORDS) -> Iterator[Point]:
    """A point a finding; the settings that are not written are one, at their heaviest place."""
    for level in Level:
        for finding in findings:
            if finding.level is level and finding.family != _MISSING:
                yield _point(finding, most)
        missing = [f for f in findings if f.family == _MISSING and f.level is level]
        if missing:
            yield _not_written(level, missing)


def _point(finding: Finding, most: int) -> Point:
    """A finding as a point: as many of its sentences as can be said, and one at least."""
    ask, all_asked = _cut(finding.ask, MOST_ASKED)
    says, all_said = _cut(finding.says, most - words_in(ask))
    if not (all_asked and all_said):
        room = most - words_in(ask, IN_FULL)
        says = f"{_cut(finding.says, room)[0]} {IN_FULL}"
    return Point(finding.level, says, ask, (finding.rule,))


def _cut(text: str, most: int) -> tuple[str, bool]:
    """The first sentences of a text within so many words, or its first words; whether it is all."""
    if words_in(text) <= most:
        return text, True
    kept: list[str] = []
    for sentence in _SENTENCE_END.split(text):
        if words_in(*kept, sentence) > most:
            break
        kept.append(sentence)
    return " ".join(kept) or " ".join(text.split()[:most]) + " …", False


_SENTENCE_END = re.compile(r"(?<=[.?!])\s+")


def _not_written(level: Level, missing: list[Finding]) -> Point:
    names = list(dict.fromkeys(in_sentence(finding.name) for finding in missing))
    shown, more = names[:MOST_NAMED], len(names) - MOST_NAMED
    listed = ", ".join(shown) + (f" and {more} more" if more > 0 else "")
    ask = "What is it to be?" if len(names) == 1 else "What are they to be?"
    return Point(level, f"Not written: {listed}.", ask, tuple(f.rule for f in missing))


def _said(points: Sequence[Point], questions: int, most: int) -> int:
    """How many of the points are said at once: as many as fit, and one at least."""
    said = min(1, len(points))
    for count in range(2, min(questions, len(points)) + 1):
        words = [words_in(point.says, point.ask) + NUMBERS for point in points[:count]]
        if sum(words) <= most:
            said = count
    return said


def words_in(*texts: str) -> int:
    """Words as they are said: what is a blank or a mark alone is none."""
    return sum(any(c.isalnum() for c in word) for text in texts for word in text.split())
