"""Escapes text for Markdown, so that it shows as it is written. Never a table or a heading.

Of CommonMark and of GitHub's dialect with its tables, struck-out text and bare links.
"""

from __future__ import annotations

import re

from orderlint.report.visible_text import safe

# A sign that is markup wherever it stands. An underscore within a word is none.
_SIGNS = re.compile(r"[\\`*\[\]<>|~$#]|&(?=[#0-9A-Za-z])|(?<![0-9A-Za-z])_|_(?![0-9A-Za-z])")
# What makes a link of what follows it, by itself.
_LINK = re.compile(r"(?<=[A-Za-z])(?=://)|(?<=www)(?=\.)", re.IGNORECASE)
# What begins a list or a rule where it begins a line: the sign is escaped, not the number.
_BEGINS = re.compile(r"^([0-9]*)(?=[-+=.)])")


def escaped(text: str) -> str:
    """The text on one line with all Markdown signs escaped by a backslash, which none shows."""
    line = _SIGNS.sub(r"\\\g<0>", " ".join(text.split()))
    return _BEGINS.sub(r"\1\\", _LINK.sub(r"\\", line))


def visibly(text: str) -> str:
    """The text as `escaped` has it, what cannot be seen in it made visible first."""
    return escaped(safe(text))


def code(text: str) -> str:
    """A name as code; a text with a backtick in it is escaped instead."""
    plain = " ".join(safe(text).split())
    return escaped(plain) if "`" in plain or not plain else f"`{plain}`"
