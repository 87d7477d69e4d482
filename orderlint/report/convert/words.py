"""The words of what a conversion moved, left and refused. Never a layout, never a decision."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.report.words import counted

if TYPE_CHECKING:
    from orderlint.fhir.conversion import Conversion, Moved
    from orderlint.finding import NotUnderstood

MOVED = "Which element went where"
LEFT = "Not understood, and in no setting"
NONE_LEFT = "Nothing: all of it is in a setting, or changes none."
REFUSED = "Nothing was written, because of this"


def what_became(made: Conversion) -> str:
    """How many settings of which file were moved."""
    return f"{made.file}: {counted(len(made.moved), 'setting')}."


def moved_words(moved: Moved) -> tuple[str, str]:
    """A setting as it is written and where, and the element that it came from or went to."""
    place = moved.place._replace(element="")
    return f"{moved.path}: “{moved.written}” ({place})", moved.element


def left_words(left: NotUnderstood) -> str:
    """An element that is in no setting, as it is written, and why."""
    return f"{left.element} “{left.written}” {left.why}."
