"""Wraps plain text to a width, makes it safe, and colours it by level.

How lines look. Never what they say.
"""

from __future__ import annotations

import re
import textwrap

from orderlint.finding import Level, Verdict
from orderlint.report.visible_text import safe
from orderlint.units import TICKS

NARROWEST = 40

# Priority colours of IEC 60601-1-8: high red, medium yellow, low cyan. Colour only repeats what
# the word beside it says; a clear report has none.
_COLORS = {
    Level.DO_NOT_START: "31",
    Level.CLARIFY: "33",
    Level.NOTE: "36",
    Verdict.DO_NOT_START: "31",
    Verdict.CLARIFY: "33",
    Verdict.INCOMPLETE: "33",
    Verdict.NOTE: "36",
}
_KEPT = "\u00a0"
_UNITS = "|".join(re.escape(symbol) for units in TICKS.values() for symbol in units)
_QUANTITY = re.compile(rf"(?<![\w.,])([-−]?\d[\d.,]*) ({_UNITS})(?![\w/])")


def mark_quantities(text: str, before: str, between: str, after: str) -> str:
    """`text` with marks around each number and its unit, which are to stay on one line."""
    return _QUANTITY.sub(rf"{before}\1{between}\2{after}", text)


def wrap_paragraph(text: str, width: int, indent: int = 0, hang: int = 0) -> str:
    """`text` made safe and wrapped; lines after the first stand `hang` further in.

    A number and its unit stay on one line. A word longer than the line is left whole.
    """
    lines = textwrap.wrap(
        mark_quantities(safe(text), "", _KEPT, ""),
        max(width, NARROWEST),
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(lines).replace(_KEPT, " ")


def colored(text: str, label: str, weight: Level | Verdict, color: bool) -> str:
    """`text` with its first `label` in the colour of `weight`, if `color` is true."""
    if not color or weight not in _COLORS:
        return text
    return text.replace(label, f"\x1b[{_COLORS[weight]}m{label}\x1b[0m", 1)
