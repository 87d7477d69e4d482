"""Words are filled with what is written and, where it differs, as displayed."""

from __future__ import annotations

import pytest

from orderlint.fields import field_table
from orderlint.language.types import Choice, Listed, Quantity, Scope
from orderlint.order import Leaf, State
from orderlint.templates import (
    LONGEST_QUOTE,
    Bracketed,
    Placeholder,
    TemplateValues,
    quote,
    settled,
    template_parts,
)

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


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("At {it}[, under {pause.upper}].", "At 20 cmH2O, under 20 cmH2O."),
        ("At {it}[, under {treat_above}].", "At 20 cmH2O."),
        ("At {it} [{treat_above}].", "At 20 cmH2O."),
        ("[{it} and {treat_above}]{it}[ and {it}]", "20 cmH2O and 20 cmH2O"),
        ("[no name]", "no name"),
        ("no end [ {it}", "no end  20 cmH2O"),
        ("{no name here} {}", "{no name here} {}"),
        ("", ""),
    ],
)
def test_brackets_are_left_out_where_something_in_them_is_not_written(text: str, words: str):
    assert filled(text, "cmH2O") == words


def test_a_text_is_split_into_names_and_what_stands_between():
    it = Placeholder("it", "name")
    assert template_parts("The {it name}[ of {reason}] is {it}.") == (
        "The ",
        it,
        Bracketed((" of ", Placeholder("reason", None))),
        " is ",
        Placeholder("it", None),
        ".",
    )


def test_what_no_order_changes_is_filled_in_once():
    scope = Scope(field_table(), SITE, it="pause.upper")
    figure = Placeholder("pause.lower", "name")
    text = "The {it name} of {site.outflow name}, {pause.lower name}."
    assert settled(text, scope, {"pause.lower": None}) == (
        "The upper pause limit of ",
        Placeholder("site.outflow", "name"),
        ", ",
        figure,
        ".",
    )
    assert settled("The {it name} and {pause.lower name}.", scope, ()) == (
        "The upper pause limit and lower pause limit.",
    )
