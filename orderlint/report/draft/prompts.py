"""The questions to whoever confirms a draft: what is written beside what was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from orderlint.field import in_sentence
from orderlint.fields import field_table
from orderlint.report.visible_text import safe

if TYPE_CHECKING:
    from orderlint.intake.draft import Line, Rest


def line_question(line: Line, number: int, count: int) -> str:
    """Whether a line says what is written."""
    name = in_sentence(field_table().display_name(line.path))
    return (
        f"{number} of {count}. Line {line.source.line} says “{safe(line.source.text)}”. "
        f"Read as: {name} {safe(line.value)}. Is that what is written? (yes, no)"
    )


def rest_question(item: Rest, number: int, count: int) -> str:
    """Whether the order goes without words that are not understood."""
    return (
        f"{number} of {count}. Line {item.source.line} says “{safe(item.source.text)}”. This was "
        "not read, and the order will not have it. Is the order right without it? (yes, no)"
    )
