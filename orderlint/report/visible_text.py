"""Makes text from an input safe to show: characters that do not show become visible escapes.

The last gate before terminal and page; reading refuses such text already. Never any layout.
"""

from __future__ import annotations

from orderlint.reading.unicode_checks import first_refused_offset


def safe(text: str) -> str:
    r"""`text` on one line, with control, direction-changing and zero-width characters as \u{202E}.

    Half characters, as in a file name that is not UTF-8, are shown so too.
    """
    if text.isprintable() and first_refused_offset(text) is None:
        return text
    return "".join(map(_visible, text))


def _visible(character: str) -> str:
    hidden = character in "\n\t" or first_refused_offset(character) is not None
    return f"\\u{{{ord(character):04X}}}" if hidden else character
