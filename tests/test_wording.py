"""Words are filled with what is written and, where it differs, as displayed."""

from __future__ import annotations

import pytest

from orderlint.fields import field_table
from orderlint.language.types import Choice, Listed, Quantity, Scope
from orderlint.order import Leaf, State
from orderlint.templates import LONGEST_QUOTE, TemplateValues, quote

WATER = 10_000_000
SITE = {
    "outflow": Choice("gravity"),
    "margin": Quantity("pressure", 3 * WATER, "3 cmH2O"),
    "bags": Listed((Quantity("volume", 500_000, "500 mL"), Quantity("volume", 10**6, "1000 mL"))),
}
UNREADABLE = Leaf("pause.lower", State.UNREADABLE, None, None, "5.0")
LEAVES = {
    "pause.upper": Leaf("pause.upper", State.KNOWN, 20 * WATER, "cmH2O", "20 cmH2O"),
    "pause.lower": UNREADABLE,
    "treat_above": Leaf("treat_above"),
    "irrigation.bag": Leaf("irrigation.bag", State.KNOWN, 10**6, "mL", "1,000  mL"),
    "stop_when": Leaf("stop_when", State.KNOWN, "a", None, "two\n lines"),
}


def filled(text: str, display: str | None = "mmHg") -> str:
    state = State.KNOWN if display else State.ABSENT
    leaves = {**LEAVES, "display_unit": Leaf("display_unit", state, display, None, display or "")}
    scope = Scope(field_table(), SITE, it="pause.upper")
    return TemplateValues(leaves, scope, {}, {"reason": "it\nis so"}).fill(text)


# 20 cmH2O is 14.711 mmHg, 3 cmH2O is 2.207 mmHg (conventional mercury, 13.5951 g/mL).
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{it}", "20 cmH2O (about 14.7 mmHg)"),
        ("{it shown}", "about 14.7 mmHg"),
        ("{it number} {it unit}", "20 cmH2O"),
        ("{it name}", "upper pause limit"),
        ("{pause.lower}", "5.0"),
        ("{pause.lower number}", "5"),
        ("{pause.lower unit}", "no unit"),
        ("{treat_above}", "nothing"),
        ("{irrigation.bag}", "1,000 mL"),
        ("{irrigation.bag number}", "1000"),
        ("{stop_when number}", "two lines"),
        ("{site.margin}", "3 cmH2O (about 2.2 mmHg)"),
        ("{site.outflow}", "gravity"),
        ("{site.bags}", "500 mL, 1000 mL"),
        ("{reason}", "it is so"),
    ],
)
def test_a_name_is_filled(text: str, words: str) -> None:
    assert filled(text) == words


def test_nothing_is_added_where_the_unit_is_the_one_displayed_or_that_is_not_known() -> None:
    assert filled("{it} {site.margin}", "cmH2O") == "20 cmH2O 3 cmH2O"
    assert filled("{it} {site.margin} {it shown}", None) == "20 cmH2O 3 cmH2O 20 cmH2O"


def test_a_long_text_is_quoted_short() -> None:
    assert quote("x" * LONGEST_QUOTE) == "x" * LONGEST_QUOTE
    assert quote("x" * (LONGEST_QUOTE + 1)) == "x" * (LONGEST_QUOTE - 1) + "…"
