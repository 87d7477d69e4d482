"""Selects, from the findings, what to ask one person in one short spoken message.

Selects and joins sentences of findings. Never adds wording of its own, never a value.
"""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING, NamedTuple

from orderlint.field import in_sentence
from orderlint.finding import Finding, Level, NotChecked
from orderlint.rulebook.rule import MISSING_FAMILY

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from orderlint.verification import Verified

MAX_QUESTIONS = 3
"""Most questions in one message."""
MAX_WORDS = 50
"""Most words of all points together, without the fixed words of the message."""
MAX_WORDS_WHILE_RUNNING = 40
"""The same limit for a message that begins by asking whether to hold irrigation."""
WORDS_PER_NUMBER = 2
"""Words that numbering adds to each of several points: once as stated, once as asked."""
MAX_QUESTION_WORDS = 20
"""Most words of one question."""
REST_IN_REPORT = "The report has the rest."
"""Replaces the sentences that were cut from a point."""
MAX_NAMED = 6
"""Most missing settings that one point names."""


class Point(NamedTuple):
    """One thing to ask: the statement, the question and the ids of the rules behind it."""

    level: Level
    says: str
    ask: str
    rules: tuple[str, ...]


class Message(NamedTuple):
    """What to ask `whom` about one order.

    `points` are asked now, heaviest first; `deferred` after the answers. `for_others` has the
    number of points for each other person. `to_call` are all who have one, `whom` of the heaviest
    finding first. `running` is true if the order is active,
    `ask_to_hold` if the first question is whether to hold irrigation.
    """

    whom: str
    verified: Verified
    points: tuple[Point, ...]
    deferred: tuple[Point, ...]
    for_others: tuple[tuple[str, int], ...]
    to_call: tuple[str, ...]
    running: bool
    ask_to_hold: bool = False

    @property
    def not_checked(self) -> tuple[NotChecked, ...]:
        """The free texts of the order that are not checked."""
        return self.verified.not_checked


def message_to(whom: str | None, verified: Verified) -> Message:
    """Make the message to `whom`: prescriber, pharmacy, second nurse, transcriber or author.

    If None, it is to whoever can answer the heaviest finding; the prescriber if there is none.
    """
    by_whom: dict[str, list[Finding]] = {}
    for finding in sorted(verified.assessment.findings, key=_weight):
        by_whom.setdefault(finding.ask_whom, []).append(finding)
    to_call = tuple(by_whom)
    whom = whom or next(iter(by_whom), "prescriber")
    findings = by_whom.pop(whom, [])
    running = verified.order.leaves["status"].value == "active"
    held = running and any(f.level is Level.DO_NOT_START for f in findings)
    most = MAX_WORDS_WHILE_RUNNING if held else MAX_WORDS
    points = tuple(_points(findings, most))
    if len(findings) == len(points) == 1:
        points = (_with_reason(points[0], findings[0], most),)
    said = _count_that_fit(points, MAX_QUESTIONS - held, most)
    now, later = points[:said], points[said:]
    others = tuple((other, len(list(_points(found)))) for other, found in by_whom.items())
    return Message(whom, verified, now, later, others, to_call, running, held)


def _weight(finding: Finding) -> tuple[int, bool]:
    """By this the heaviest finding comes first; of one level, what is missing comes last."""
    return -finding.level.weight, finding.family == MISSING_FAMILY


def _points(findings: list[Finding], most: int = MAX_WORDS) -> Iterator[Point]:
    """Yield one point per finding, heaviest first; missing settings of one level share a point."""
    for level in Level:
        for finding in findings:
            if finding.level is level and finding.family != MISSING_FAMILY:
                yield _point(finding, most)
        missing = [f for f in findings if f.family == MISSING_FAMILY and f.level is level]
        if missing:
            yield _missing_settings(level, missing)


def _point(finding: Finding, most: int) -> Point:
    """Make a point of a finding, with as many of its sentences as fit, and at least one."""
    ask, all_asked = _shorten(finding.ask, MAX_QUESTION_WORDS)
    says, all_said = _shorten(finding.says, most - count_words(ask))
    if not (all_asked and all_said):
        room = most - count_words(ask, REST_IN_REPORT)
        says = f"{_shorten(finding.says, room)[0]} {REST_IN_REPORT}"
    return Point(finding.level, says, ask, (finding.rule,))


def _with_reason(point: Point, finding: Finding, most: int) -> Point:
    """The only point with the first sentence of why it matters, if there is room."""
    why = _SENTENCE_END.split(finding.why)[0]
    fits = finding.family != MISSING_FAMILY and count_words(point.says, why, point.ask) <= most
    return point._replace(says=f"{point.says} {why}") if fits else point


def _shorten(text: str, most: int) -> tuple[str, bool]:
    """Keep the sentences, else words, that fit in `most` words; True if nothing was cut."""
    if count_words(text) <= most:
        return text, True
    kept: list[str] = []
    for sentence in _SENTENCE_END.split(text):
        if count_words(*kept, sentence) > most:
            break
        kept.append(sentence)
    return " ".join(kept) or " ".join(text.split()[:most]) + " …", False


_SENTENCE_END = re.compile(r"(?<=[.?!])\s+")


def _missing_settings(level: Level, missing: list[Finding]) -> Point:
    names = list(dict.fromkeys(in_sentence(finding.name) for finding in missing))
    shown, more = names[:MAX_NAMED], len(names) - MAX_NAMED
    listed = ", ".join(shown) + (f" and {more} more" if more > 0 else "")
    ask = "What is it to be?" if len(names) == 1 else "What are they to be?"
    return Point(level, f"Not written: {listed}.", ask, tuple(f.rule for f in missing))


def _count_that_fit(points: Sequence[Point], questions: int, most: int) -> int:
    """Count the points that fit in one message; at least one."""
    words = (count_words(point.says, point.ask) + WORDS_PER_NUMBER for point in points[:questions])
    fitting = sum(total <= most for total in itertools.accumulate(words))
    return fitting or min(1, len(points))


def count_words(*texts: str) -> int:
    """Count the words that have a letter or digit."""
    return sum(any(c.isalnum() for c in word) for text in texts for word in text.split())
