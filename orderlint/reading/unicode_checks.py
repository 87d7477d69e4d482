"""Decodes bytes to text that shows as it is: UTF-8, no hidden or direction-changing character.

Judges single characters, never the meaning of the text.
"""

from __future__ import annotations

import re
import unicodedata

from orderlint.finding import Place, Refused

LARGEST_FILE = 1024 * 1024  # bytes

_PLAIN = frozenset(map(chr, range(0x20, 0x7F))) | {"\n", "\t", "\r"}
# Cc control, Cf format (zero-width, direction), Cs surrogate, Zl and Zp line and paragraph breaks.
_REFUSED_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
# Default_Ignorable_Code_Point of the Unicode Character Database, as far as it is not Cf.
_IGNORABLE = frozenset(
    {
        *(0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x2065, 0x3164, 0xFFA0),
        *range(0x180B, 0x1810),
        *range(0xFE00, 0xFE10),
        *range(0xFFF0, 0xFFF9),
        *range(0xE0000, 0xE1000),
    }
)
# The character database gives control characters no name of their own.
_CONTROL_NAMES = {
    "\0": "NULL",
    "\a": "BELL",
    "\b": "BACKSPACE",
    "\v": "LINE TABULATION",
    "\f": "FORM FEED",
    "\r": "CARRIAGE RETURN",
    "\x1b": "ESCAPE",
    "\x7f": "DELETE",
    "\x85": "NEXT LINE",
}


def decode_text(data: bytes, file: str, largest: int = LARGEST_FILE) -> str:
    """Decode a file of at most `largest` bytes, without an initial byte order mark.

    Raises Refused at the first byte that is not UTF-8, or the first character that is not allowed.
    """
    if len(data) > largest:
        most = largest // (1024 * 1024)
        raise Refused(f"The file is larger than {most} MiB, the most that is read.", file)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _not_utf8(data, error.start, file) from None
    text = text.removeprefix("\ufeff")
    offset = first_refused_offset(text)
    if offset is not None:
        raise Refused(refusal_message(text[offset]), place_at(text, offset, file))
    return text


def first_refused_offset(text: str) -> int | None:
    """Return the offset of the first character that is not allowed, or None."""
    if text.isascii() and text.replace("\n", "").isprintable():
        return None
    refused = {character for character in set(text) - _PLAIN if _is_refused(character)}
    offsets = [next(i for i, c in enumerate(text) if c in refused)] if refused else []
    lone_return = re.search("\r(?!\n)", text) if "\r" in text else None
    if lone_return:
        offsets.append(lone_return.start())
    return min(offsets, default=None)


def refusal_message(character: str) -> str:
    """Return the sentence that refuses `character`, with its number and name."""
    named = f"U+{ord(character):04X} {_name(character)}"
    if character == "\r":
        return f"The text holds {named} without a line feed after it. Take it out."
    return f"The text holds {named}, which does not show as what it is. Take it out."


def place_at(text: str, offset: int, file: str) -> Place:
    """Return the place of the character at `offset` (from 0)."""
    line_start = text.rfind("\n", 0, offset) + 1
    return Place(file, text.count("\n", 0, offset) + 1, offset - line_start + 1)


def describe_character(text: str, offset: int) -> str:
    """Describe the character at `offset` in words that make it visible."""
    if not text[offset:].strip():
        return "the end of the file"
    names = {
        "\n": "the end of the line",
        "\r": "the end of the line",
        "\t": "a tab",
        " ": "a space",
    }
    character = text[offset]
    named = f"U+{ord(character):04X} {_name(character)}"
    return names.get(character, f"“{character}”" if character.isprintable() else named)


def _not_utf8(data: bytes, offset: int, file: str) -> Refused:
    before = data[:offset].decode("utf-8").removeprefix("\ufeff")
    message = (
        f"Byte {offset + 1} of the file (0x{data[offset]:02X}) is not UTF-8 text. "
        "Save the file as UTF-8."
    )
    return Refused(message, place_at(before, len(before), file))


def _is_refused(character: str) -> bool:
    number = ord(character)
    return (
        unicodedata.category(character) in _REFUSED_CATEGORIES
        or _is_noncharacter(number)
        or number in _IGNORABLE
    )


def _is_noncharacter(number: int) -> bool:
    return number & 0xFFFE == 0xFFFE or 0xFDD0 <= number <= 0xFDEF


def _name(character: str) -> str:
    if character in _CONTROL_NAMES:
        return _CONTROL_NAMES[character]
    if _is_noncharacter(ord(character)):
        return "(a noncharacter)"
    kind = {"Cc": "(a control character)", "Cs": "(half of a character)"}
    fallback = kind.get(unicodedata.category(character), "(without a name)")
    return unicodedata.name(character, fallback)
