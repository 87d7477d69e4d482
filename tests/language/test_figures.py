"""Figures for the words: exact, with their units, against published equivalents.

Pressure equivalents: conventional mercury, 13.5951 g/mL, and water (NIST SP 811, Appendix B).
"""

from __future__ import annotations

import re

import pytest

from orderlint.fields import field_table
from orderlint.language.figures import FUNCTIONS, check_figure, figure, figure_words
from orderlint.language.surface import LanguageError
from orderlint.language.syntax import parse
from orderlint.language.types import Choice, Quantity, Scope
from orderlint.order import Leaf, State

MMHG = 13_595_100
SITE = {"step": Quantity("pressure", MMHG, "1 mmHg"), "outflow": Choice("gravity")}
LIMITS = {"day": Quantity("duration", 86_400_000, "24 h")}
SCOPE = Scope(field_table(), SITE, LIMITS, it="pause.upper")
HOUR = 3_600_000


def known(path: str, value: int | str, unit: str | None) -> Leaf:
    return Leaf(path, State.KNOWN, value, unit)


LEAVES = {
    "pause.upper": known("pause.upper", 22 * MMHG, "mmHg"),
    "treat_above": known("treat_above", 200_000_000, "cmH2O"),
    "display_unit": known("display_unit", "cmH2O", None),
    "drainage.scale": Leaf("drainage.scale"),
    "irrigation.rate": known("irrigation.rate", 60_000, "mL/h"),
    "irrigation.daily_max": known("irrigation.daily_max", 2_200_000, "mL"),
    "irrigation.bag": known("irrigation.bag", 1_000_000, "mL"),
    "monitoring.output_every": known("monitoring.output_every", HOUR, "h"),
    "notify.icp_for": known("notify.icp_for", 300_000, "min"),
    "titration.step": known("titration.step", 0, "mL/h"),
    "titration.max": Leaf("titration.max"),
    "patient.weight": known("patient.weight", 70_000_000, "kg"),
    "position.head_up": known("position.head_up", 300, "deg"),
    "drainage.height": Leaf("drainage.height"),
    "revision": known("revision", 3, None),
    "starts": known("starts", 10 * HOUR, None),
    "review_by": known("review_by", 34 * HOUR, None),
}

FIGURES = {
    "pause.upper - treat_above": "9.90922 cmH2O",  # 29.90922 - 20, shown as displayed
    "-treat_above": "-20 cmH2O",
    "converted(it, display_unit)": "29.90922 cmH2O",  # 22 mmHg (computed from 13.5951 g/mL)
    "keyed(it, display_unit)": "about 16.18 mmHg",  # 22 cmH2O = 16.1823 mmHg
    "settable_below(treat_above, site.step)": "14 mmHg",  # 20 cmH2O = 14.711 mmHg
    "settable_above(treat_above, site.step)": "15 mmHg",
    "settable_above(it, site.step)": "22 mmHg",
    "irrigation.bag / irrigation.rate": "about 16.67 h",
    "irrigation.daily_max / irrigation.rate": "about 36.67 h",
    "irrigation.daily_max / day": "about 91.67 mL/h",
    "day * irrigation.rate": "1440 mL",  # 24 h at 60 mL/h
    "product(irrigation.rate, monitoring.output_every)": "60 mL",
    "product(irrigation.rate, notify.icp_for) * 2": "10 mL",
    "irrigation.bag / irrigation.daily_max": "about 0.45",
    "irrigation.rate / 4 + irrigation.rate": "75 mL/h",
    "review_by - starts": "24 h",
    "review_by - day - starts": "0 min",
    "notify.icp_for": "5 min",
    "patient.weight": "70 kg",
    "position.head_up": "30 deg",
    "revision + 1.5": "4.5",
}


def parsed(text: str):
    return parse(text, FUNCTIONS, division=True)


@pytest.mark.parametrize("text", FIGURES)
def test_a_figure_is_exact_and_in_a_unit_that_a_reader_wants(text):
    check_figure(parsed(text), SCOPE)
    found = figure(parsed(text), SCOPE, LEAVES)
    assert figure_words(found, "cmH2O") == FIGURES[text]


def test_a_pressure_is_in_mmhg_where_the_display_is_not_known():
    found = figure(parsed("it"), SCOPE, LEAVES)
    assert figure_words(found, None) == "22 mmHg"


@pytest.mark.parametrize(
    "text",
    [
        "titration.max - irrigation.rate",
        "irrigation.bag / titration.step",
        "converted(it, drainage.scale)",
        "keyed(drainage.height, display_unit)",
    ],
)
def test_what_an_order_cannot_give_is_no_figure(text):
    check_figure(parsed(text), SCOPE)
    assert figure(parsed(text), SCOPE, LEAVES) is None


REFUSED = {
    "it - irrigation.rate": "a pressure cannot stand beside a flow",
    "it / irrigation.rate": "a pressure by a flow is no figure",
    "it * irrigation.rate": "is nothing that an order holds",
    "starts + review_by": "two instants cannot be added",
    "starts - it": "an instant cannot stand beside a pressure",
    "therapy - 1": "therapy has no number",
    "site.outflow - 1": "there is no field site.outflow",
    "'x' - 1": "made of numbers, fields and constants",
    "keyed(titration.max, display_unit)": "display_unit does not choose a unit of titration.max",
    "converted(it, therapy)": "therapy does not choose a unit of it",
    "converted(it, 1)": "made of numbers, fields and constants",
    "settable_below(it, day)": "a pressure cannot stand beside a duration",
    "it - nothing": "there is no field nothing",
}


@pytest.mark.parametrize("text", REFUSED)
def test_a_mistake_in_a_figure_is_refused_when_it_is_checked(text):
    with pytest.raises(LanguageError, match=re.escape(REFUSED[text])):
        check_figure(parsed(text), SCOPE)


def test_the_unit_of_a_step_may_be_another_field():
    # A step that is no constant has no unit of its own to show.
    found = figure(parsed("settable_below(treat_above, it)"), SCOPE, LEAVES)
    assert figure_words(found, "mmHg") == "0 mmHg"
