"""The words that reports share: verdicts and what follows from each, levels, counts, cautions.

Fixed words, numbers and names. Never the words of a finding, and never a decision.
"""

from __future__ import annotations

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.finding import Level, Verdict
from orderlint.quantity_words import format_instant

LABELS = {
    Verdict.DO_NOT_START: "DO NOT START – CALL",
    Verdict.CLARIFY: "CLARIFY",
    Verdict.INCOMPLETE: "INCOMPLETE",
    Verdict.NOTE: "NOTE",
    Verdict.CLEAR: "CLEAR",
}

FOR_AUTHOR = {
    **LABELS,
    Verdict.DO_NOT_START: "DO NOT RELEASE",
    Verdict.CLEAR: "SOUND",
}
"""The same of an order set, for its author, who calls nobody and starts nothing."""

FOR_CHANGE = {**FOR_AUTHOR, Verdict.CLEAR: "NOTHING NEWLY BROKEN"}
"""The same of what is new in an order set: the rest of it may be as it was."""

LEVELS = {level: LABELS[Verdict(level.value)] for level in Level}
LEVELS_FOR_AUTHOR = {level: FOR_AUTHOR[Verdict(level.value)] for level in Level}

SEVERITIES = {Level.DO_NOT_START: "error", Level.CLARIFY: "warning", Level.NOTE: "note"}
"""The words for our levels in formats that other programs read (SARIF 2.1.0, 3.27.10)."""

_NO_POINT = "Nothing was found that has to be settled first."
_NOT_KNOWN = "What was not checked is not known to be sound."
_NONE_FOUND = "None of the rules asked found anything"
_NOT_RIGHT = "That alone does not make the order right for this patient."

OF_ORDER = {
    Verdict.DO_NOT_START: "Do not key in or start this order. Call, and have the points below "
    "settled first. Should it run already, change nothing before that call.",
    Verdict.CLARIFY: "Ask about the points below before this order is keyed in or started.",
    Verdict.INCOMPLETE: "Nothing was found that contradicts itself, but part of the order could "
    f"not be checked. {_NOT_KNOWN}",
    Verdict.NOTE: f"{_NO_POINT} Read the notes below before starting.",
    Verdict.CLEAR: f"{_NONE_FOUND}. {_NOT_RIGHT}",
}

OF_READ_BACK = {
    Verdict.DO_NOT_START: "Do not start before the points below are settled.",
    Verdict.CLARIFY: "Ask about the points below before this is started.",
    Verdict.INCOMPLETE: "No difference to call about was found, but part could not be compared or "
    f"checked. {_NOT_KNOWN}",
    Verdict.NOTE: OF_ORDER[Verdict.NOTE],
    Verdict.CLEAR: "Each setting seen is as it is ordered, and none of the rules asked found "
    f"anything. {_NOT_RIGHT}",
}

WHILE_ACTIVE = {
    Verdict.DO_NOT_START: "This order is active. Call now, and have the points below settled.",
    Verdict.CLARIFY: "This order is active. Ask about the points below.",
    Verdict.NOTE: f"{_NO_POINT} Read the notes below.",
}
"""For an order or a read-back that is active, as there is no start to hold back."""

DRAFT = "It is marked as a draft: key in only what is signed."
"""What is said after a verdict's sentence of a draft in which there is nothing to ask."""
ENDED = "This order is marked as ended."
"""Stands before a verdict's sentence if the order has ended."""

OF_CHANGE = {
    Verdict.DO_NOT_START: "Do not key in or start the second order before this is settled.",
    Verdict.CLARIFY: "Ask about the points named here before the second order is keyed in.",
    Verdict.INCOMPLETE: "No point to call about was found, but part of the change, or of the "
    f"second order, could not be checked. {_NOT_KNOWN}",
    Verdict.NOTE: f"{_NO_POINT} Read the notes before going on.",
    Verdict.CLEAR: f"{_NONE_FOUND} in the change or in the second order. That alone does not make "
    "either right for this patient.",
}

OF_CHANGE_WHILE_ACTIVE = {
    Verdict.DO_NOT_START: "An order of the two is active. Call now, and have this settled.",
    Verdict.CLARIFY: "An order of the two is active. Ask about the points named here.",
    Verdict.NOTE: f"{_NO_POINT} Read the notes.",
}

OF_SET = {
    Verdict.DO_NOT_START: "Make no order from this set, not even from its presets, before the "
    "points below are settled.",
    Verdict.CLARIFY: "Look at the points below before orders are made from this set.",
    Verdict.INCOMPLETE: "Nothing was found that is broken, but some order may leave a rule "
    "unchecked.",
    Verdict.NOTE: "No order from the set breaks a rule that has to be asked about. Read the notes "
    "below.",
    Verdict.CLEAR: "Every rule that can be asked before signing is proved of every order from "
    "this set.",
}

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


BLANK = "____"
"""What a person fills in."""


def counted(count: int, noun: str) -> str:
    """How many of something, as in "1 rule" and "2 rules"."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def name_of(path: str) -> str:
    """The display name of a setting or section, for use within a sentence."""
    return in_sentence(field_table().display_name(path))


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
