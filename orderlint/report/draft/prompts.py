"""The questions to whoever confirms a draft: what is written beside what was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.report.visible_text import safe

if TYPE_CHECKING:
    from orderlint.sentences.draft import Line, Rest


def line_question(line: Line, number: int, count: int) -> str:
    """Whether a line says what is written."""
    name = in_sentence(field_table().display_name(line.path))
    return (
        f"{number} of {count}. Line {line.source.line} says “{safe(line.source.text)}”. "
        f"Read as: {name} {safe(line.value)}. Is that what is written? (yes, no)"
    )


LEAVE_OUT, KEEP = "leave out", "no"
LEAVE_OUT_OR_NO = f"Enter {LEAVE_OUT} or {KEEP}."


def rest_question(item: Rest, number: int, count: int) -> str:
    """What to do with words that are not understood. A yes is no answer, lest one slips through."""
    why = f" ({safe(item.why)})" if item.why else ""
    return (
        f"{number} of {count}. Line {item.source.line} says “{safe(item.source.text)}”. This was "
        f"not read{why}, and is in no line of the order. What is to be done? Enter {LEAVE_OUT}, if "
        f"the order is right without it; {KEEP}, if it is not: then no order is written."
    )
