"""Makes cells safe to open in a spreadsheet, which computes what looks like a formula.

An apostrophe stands before such a text, so that it stays one. Never a number, and never in Parquet.
"""

from __future__ import annotations

import re

# Full-width signs are formulas too where a spreadsheet is set to a language that writes them.
_SIGNS = r"[=+\-@＝＋－＠]"
_BLANKS = r"[\p{Zs}\u200b\u2060\ufeff]*"
STARTS = rf"^({_BLANKS}(?:{_SIGNS}|[\t\r\n]))"
"""How a cell begins that a spreadsheet may compute."""
INNER = rf"([;\t\r\n])({_BLANKS}{_SIGNS})"
"""Where a cell would begin so, were the file read with another separator than the comma."""
LONGEST = 32_767
"""Characters that a cell of an xlsx file can hold."""
MOST_ROWS = 1_048_576
"""Rows that a sheet of an xlsx file can hold, its head included."""

_PYTHON_STARTS, _PYTHON_INNER = (
    re.compile(pattern.replace(r"\p{Zs}", r" \u00a0\u1680\u2000-\u200a\u202f\u205f\u3000"))
    for pattern in (STARTS, INNER)
)


def defused(text: str, *, inner: bool) -> str:
    """`text` as a cell that is never computed; with `inner`, whatever the separator is taken for.

    >>> defused("=1+1", inner=False)
    "'=1+1"
    """
    said = _PYTHON_INNER.sub(r"\1'\2", text) if inner else text
    return _PYTHON_STARTS.sub(r"'\1", said)
