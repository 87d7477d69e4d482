from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from orderlint.report.visible_text import safe


@given(st.text(st.characters(categories=["L", "N", "P", "S"]) | st.just(" ")))
def test_letters_figures_and_signs_stay(text):
    if not any("HANGUL" in unicodedata.name(c, "") or c == "\ufffd" for c in text):
        assert safe(text) == text


@given(st.text())
def test_nothing_hidden_is_left(text):
    shown = safe(text)
    assert not {unicodedata.category(c) for c in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert safe(shown) == shown


def test_the_number_of_what_hides_is_shown():
    # Code points from the Unicode Character Database.
    assert safe("a\u202eb\x00\n\t\U000e0041\u200d") == (
        "a\\u{202E}b\\u{0000}\\u{000A}\\u{0009}\\u{E0041}\\u{200D}"
    )
