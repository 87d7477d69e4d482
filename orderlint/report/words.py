"""The words that reports share: levels, counts, an instant, the caution.

Fixed words only. Never the words of a finding, and never a decision.
"""

from __future__ import annotations

from orderlint.finding import Level, Verdict
from orderlint.quantity_words import format_instant
from orderlint.report.verdicts import FOR_AUTHOR, LABELS

LEVELS = {level: LABELS[Verdict(level.value)] for level in Level}
LEVELS_FOR_AUTHOR = {level: FOR_AUTHOR[Verdict(level.value)] for level in Level}

SEVERITIES = {Level.DO_NOT_START: "error", Level.CLARIFY: "warning", Level.NOTE: "note"}
"""The words for our levels in formats that other programs read (SARIF 2.1.0, 3.27.10)."""

ALREADY_RUNNING = (
    "Already running? Do not clamp, open or move the drain because of this report; call now and "
    "ask whether irrigation, if it runs, is to be held."
)

UNSEEN = (
    "This tool cannot see whether the drain is open, level or patent. Outflow by gravity is an "
    "assumption, made from the numbers written, with drain height and ICP zeroed at the same point."
)

UNSEEN_CLOSED = "This tool cannot see whether the drain is closed."
"""Replaces it if the valve is closed at every pressure."""

NOT_IN_TABLE = (
    "The table of what the controller does by ICP does not show how fast it irrigates, with what "
    "and from which bag, how far below the ICP the drain hangs, or any limit of volume or time."
)
"""What can differ between two orders although their tables are equal."""

FREE_TEXT = (
    "Of a free text the notation is checked, and numbers and acts beside the settings that they "
    "name; never what it means."
)
FREE_TEXT_BRIEF = "Free text is not understood."

CAUTION = (
    "Caution: this is decision support. It does not replace the prescriber, the pharmacist, the "
    "manufacturer's instructions or local policy. It compares only what is written. A clear "
    "report does not mean that the order is right for this patient."
)

BRIEF_CAUTION = (
    "Caution: decision support; what is written is compared, no more. Prescriber, pharmacist, "
    "manufacturer's instructions and local policy decide."
)
"""The same in two lines, for a report of one screen."""


def counted(count: int, noun: str) -> str:
    """How many of something, as in "1 rule" and "2 rules"."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def digest_words(digest: str) -> str:
    """The digest of a file, which identifies its revision on paper."""
    return f"SHA-256 of the file: {digest}"


def file_not_checked_words(reason: str) -> str:
    """Say that a file was not checked, and why."""
    return f"NOT CHECKED. {reason}"


def minute_words(at: int, offset: int) -> str:
    """The minute of `at`, milliseconds since 1970 UTC, on a clock `offset` minutes ahead of UTC."""
    hours, minutes = divmod(abs(offset), 60)
    clock = f"UTC{'-' if offset < 0 else '+'}{hours:02d}:{minutes:02d}" if offset else "UTC"
    return f"{instant_words(at + offset * 60_000)[:16].replace('T', ' ')} ({clock})"


def instant_words(at: int) -> str:
    """An instant, in milliseconds since 1970 UTC, as ISO 8601 in UTC. Any integer will do."""
    return format_instant(at)
