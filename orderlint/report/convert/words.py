"""The words of what a conversion moved, left and refused. Never a layout, never a decision."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.words import counted

if TYPE_CHECKING:
    from orderlint.fhir.conversion import Conversion, Moved
    from orderlint.finding import Finding, NotUnderstood

MOVED = "Which element went where"
LEFT = "Not understood, and in no setting"
NONE_LEFT = "Nothing: all of it is in a setting, or changes none."
REFUSED = "Nothing was written, because of this"
BESIDE = "is a free text beside the instructions"
"""Why a text is in no setting: an order has one such text."""


def what_became(made: Conversion) -> str:
    """How many settings of which file were moved."""
    return f"{made.file}: {counted(len(made.moved), 'setting')}."


def moved_words(moved: Moved) -> tuple[str, str]:
    """A setting as it is written, its line and column, and the elements it is from or went to."""
    place = f"{moved.place.line}:{moved.place.column}"
    return f"{moved.path}: “{moved.written}” ({place})", ", ".join(moved.elements)


def left_words(left: NotUnderstood) -> str:
    """An element that is in no setting, as it is written, and why."""
    return f"{left.element} “{left.written}” {left.why}."


def unsaid_words(unsaid: NotUnderstood) -> str:
    """An element that is not understood, why, and what of it an order would not say."""
    rest = "A setting may stand in it." if unsaid.may_hold_setting else "No setting says so."
    return f"{unsaid.place}: {left_words(unsaid)} {rest}"


def lost_words(finding: Finding) -> str:
    """What is found in a resource and would not be found in the order that is made of it."""
    return f"{finding.place.where}: {finding.says}"
