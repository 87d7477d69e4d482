from __future__ import annotations

import re
import sys
import unicodedata

import pytest
import regress
from hypothesis import given
from hypothesis import strategies as st

from orderlint.finding import Refused
from orderlint.reading import read
from orderlint.reading.unicode_checks import first_refused_offset


def every_character() -> list[str]:
    """Those of the planes in use and the ends of all; the rest is unassigned or private."""
    return [
        chr(number)
        for number in range(sys.maxunicode + 1)
        if number >> 16 in {0, 1, 2, 14} or number & 0xFFFF >= 0xFFF0
    ]


@pytest.mark.slow
def test_what_unicode_says_is_hidden_is_refused_and_nothing_else() -> None:
    # Default_Ignorable_Code_Point comes from another reader of the Unicode database: the
    # regular expressions of ECMAScript.
    characters = every_character()
    encoded = "".join(characters).encode("utf-8", "ignore")
    found = regress.Regex(r"\p{DI}", "u").find_iter(encoded.decode())
    ignorable = {encoded[match.group(0)].decode() for match in found}
    hidden = {
        character
        for character in characters
        if unicodedata.category(character) in {"Cc", "Cf", "Cs", "Zl", "Zp"}
        or ord(character) % 0x10000 >= 0xFFFE
        or 0xFDD0 <= ord(character) <= 0xFDEF
    }
    refused = (hidden | ignorable) - {"\n", "\t"}
    assert len(ignorable) > 4000
    assert all(first_refused_offset(character) == 0 for character in refused)
    assert first_refused_offset("".join(c for c in characters if c not in refused)) is None


@given(st.text())
def test_the_first_refused_character_is_found(text: str) -> None:
    alone = [
        offset
        for offset, character in enumerate(text)
        if first_refused_offset(character) is not None and text[offset : offset + 2] != "\r\n"
    ]
    assert first_refused_offset(text) == min(alone, default=None)


def test_spaces_and_letters_of_the_trade_pass() -> None:
    assert first_refused_offset("5\u00a0µg\u2009\u202f−3 Δ ≥ °C é\t\r\n") is None


@pytest.mark.parametrize(
    ("data", "file", "what"),
    [
        ("\u2002#", "a.json", "U+2002 EN SPACE"),
        ("{\u00a0}", "a.json", "U+00A0 NO-BREAK SPACE"),
        ("a: [x]\u3000y", "a.yaml", "U+3000 IDEOGRAPHIC SPACE"),
        ("\t{]", "a.json", "“]”"),
    ],
)
def test_a_space_that_no_reader_sees_is_named(data: str, file: str, what: str) -> None:
    with pytest.raises(Refused, match=re.escape(f" at {what} (")):
        read(data.encode(), file)
