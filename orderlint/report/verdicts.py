"""The name of each verdict, and the sentence that follows from it for each reader.

Fixed words only, and never a decision.
"""

from __future__ import annotations

from orderlint.finding import Verdict

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
