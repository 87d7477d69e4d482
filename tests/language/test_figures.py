"""Figures for the words: exact, with their units, against published equivalents.

Pressure equivalents: conventional mercury, 13.5951 g/mL, and water (NIST SP 811, Appendix B).
"""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from each_case import of_each

from orderlint.fields import field_table
from orderlint.language.figures import (
    FUNCTIONS,
    FigureValue,
    check_figure,
    evaluate_figure,
    format_figure,
)
from orderlint.language.surface import LanguageError
from orderlint.language.syntax import parse
from orderlint.language.types import Choice, Quantity, Scope
from orderlint.order import Leaf, State
from orderlint.units import read_constant

MMHG = 13_595_100
SITE = {"step": Quantity("pressure", MMHG, "1 mmHg"), "outflow": Choice("gravity")}
LIMITS = {"day": Quantity("duration", 86_400_000, "24 h")}
SCOPE = Scope(field_table(), SITE, LIMITS, it="pause.upper")
HOUR = 3_600_000
STRENGTH, NAME = "irrigation.additive.concentration", "irrigation.additive.name"
ROWS = {
    "vancomycin": ("5 mg/day", "20 mg/day"),
    "vancomycin 500": ("6 mg/day", "21 mg/day"),
    "b, c": ("1 mg/day", "2 mg/day"),
}
SITE |= {
    f"published.{row}.{end}": Quantity("mass rate", read_constant(text)[0], text)
    for row, ends in ROWS.items()
    for end, text in zip(("lowest", "highest"), ends, strict=True)
}


def known(path: str, value: int | str, unit: str | None) -> Leaf:
    return Leaf(path, State.KNOWN, value, unit)


LEAVES = {
    "pause.upper": known("pause.upper", 22 * MMHG, "mmHg"),
    "treat_above": known("treat_above", 200_000_000, "cmH2O"),
    "irrigation.additive.concentration": known(STRENGTH, 1_000_000, "mg/L"),
    "irrigation.additive.name": Leaf(NAME, State.KNOWN, "a", None, "vancomycin 500 mg"),
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
    "checked_at": known("checked_at", 12 * HOUR, None),
    "before.pause.upper": known("before.pause.upper", 15 * MMHG, "mmHg"),
    "before.display_unit": known("before.display_unit", "mmHg", None),
}

FIGURES = {
    "pause.upper - treat_above": "about 9.9 cmH2O",  # 29.90922 - 20, shown as displayed
    "-treat_above": "-20 cmH2O",
    "-settable_below(treat_above, site.step)": "-14 mmHg",
    "settable_below(treat_above, 2 * site.step)": "about 19.03 cmH2O",  # 14 mmHg
    "converted(it, display_unit) - treat_above": "about 9.9 cmH2O",
    "keyed(it, display_unit) - it": "about -7.9 cmH2O",  # 22 - 29.90922
    "monitoring.output_every": "1 h",
    "checked_at - starts": "2 h",
    "converted(it, display_unit)": "about 29.9 cmH2O",  # 22 mmHg (computed from 13.5951 g/mL)
    "keyed(it, display_unit)": "about 16.2 mmHg",  # 22 cmH2O = 16.1823 mmHg
    "settable_below(treat_above, site.step)": "14 mmHg",  # 20 cmH2O = 14.711 mmHg
    "settable_above(treat_above, site.step)": "15 mmHg",
    "settable_above(it, site.step)": "22 mmHg",
    "irrigation.bag / irrigation.rate": "16 h 40 min",
    "irrigation.daily_max / irrigation.rate": "36 h 40 min",
    "irrigation.bag / irrigation.rate / 7": "about 2.4 h",  # 16.6667 h / 7
    "-(irrigation.bag / irrigation.rate) / 7": "about -2.4 h",
    "notify.icp_for / 7": "about 0.7 min",
    "irrigation.daily_max / day": "about 91.7 mL/h",
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
    f"product({STRENGTH}, irrigation.rate)": "14.4 mg/day",  # 10 mg/L at 60 mL/h
    f"hourly(product(mass_of({STRENGTH}), irrigation.rate))": "0.6 mg/h",
    f"daily(product({STRENGTH}, irrigation.rate) / 1000)": "14.4 mcg/day",
    f"1000 * product({STRENGTH}, irrigation.rate)": "14,400 mg/day",
    f"highest_of(site.published, {NAME})": "21 mg/day",  # of two names the longer
    f"lowest_of(site.published, {NAME})": "6 mg/day",
}


def parsed(text: str):
    return parse(text, FUNCTIONS, division=True)


@of_each("text", FIGURES)
def test_a_figure_is_exact_and_in_a_unit_that_a_reader_wants(text):
    check_figure(parsed(text), SCOPE)
    found = evaluate_figure(parsed(text), SCOPE, LEAVES)
    assert format_figure(found, "cmH2O") == FIGURES[text]


def test_a_figure_on_a_change_reads_the_order_before():
    scope = Scope(field_table(), it="before.pause.upper", change=True)
    for text, words in {
        "pause.upper - it": "7 mmHg",
        "converted(it, before.display_unit)": "15 mmHg",
        "keyed(it, display_unit)": "about 11.03 mmHg",  # 15 cmH2O = 11.0333 mmHg
    }.items():
        check_figure(parsed(text), scope)
        assert format_figure(evaluate_figure(parsed(text), scope, LEAVES), "mmHg") == words


def test_the_path_before_is_told_by_the_word_before_it():
    scope = Scope(field_table(), it="pause.upper", change=True)
    assert [scope.full(path) for path in ("it", "before.it", "starts")] == [
        *("pause.upper", "before.pause.upper", "starts")
    ]


def test_a_figure_is_told_apart_from_what_stands_beside_it():
    # 29.91 / 1.35951 is 22.000573…, by the definition of conventional mercury.
    found = FigureValue(Fraction(299_100_000), "pressure")
    assert format_figure(found, "mmHg") == "about 22.001 mmHg"
    assert format_figure(found, "mmHg", [22 * MMHG + 7_300]) == "about 22.0006 mmHg"


def test_a_converted_number_is_in_the_unit_chosen_whatever_the_display():
    found = evaluate_figure(parsed("converted(it, display_unit)"), SCOPE, LEAVES)
    assert format_figure(found, "mmHg") == "about 29.9 cmH2O"


def test_a_pressure_is_in_mmhg_where_the_display_is_not_known():
    found = evaluate_figure(parsed("it"), SCOPE, LEAVES)
    assert format_figure(found, None) == "22 mmHg"


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
    assert evaluate_figure(parsed(text), SCOPE, LEAVES) is None


REFUSED = {
    "it - irrigation.rate": (0, "a pressure cannot stand beside a flow"),
    "2 + (it / irrigation.rate)": (5, "a pressure by a flow is no figure"),
    "2 + (it * irrigation.rate)": (5, "is nothing that an order holds"),
    "2 + product(it, irrigation.rate)": (4, "is nothing that an order holds"),
    "2 + (it - irrigation.rate)": (5, "a pressure cannot stand beside a flow"),
    "starts + review_by": (0, "two instants cannot be added"),
    "checked_at - it": (0, "an instant cannot stand beside a pressure"),
    "starts - it": (0, "an instant cannot stand beside a pressure"),
    "1 - therapy": (4, "therapy has no number"),
    "1 - site.outflow": (4, "there is no field site.outflow"),
    "1 - site.nothing": (4, "the policy has no site.nothing"),
    "1 - 'x'": (4, "made of numbers, fields and constants"),
    "keyed(titration.max, display_unit)": (21, "display_unit does not choose a unit of titr"),
    f"daily({STRENGTH})": (0, "daily takes what runs in of a drug"),
    "mass_of(it) * 2": (8, "it is no mass concentration"),
    "highest_of(site.published, nothing)": (27, "there is no field nothing"),
    "converted(it, therapy)": (14, "therapy does not choose a unit of it"),
    "converted(it, stop_when)": (14, "stop_when does not choose a unit of it"),
    "converted(it, treat_above)": (14, "treat_above does not choose a unit of it"),
    "converted(it, nothing)": (14, "there is no field nothing"),
    "converted(nothing, display_unit)": (10, "there is no field nothing"),
    "1 - converted(it, 1)": (4, "made of numbers, fields and constants"),
    "converted(it, display_unit) - irrigation.rate": (0, "a pressure cannot stand beside a flow"),
    "settable_below(it, day)": (19, "a pressure cannot stand beside a duration"),
    "settable_below(it, nothing)": (19, "there is no field nothing"),
    "it - nothing": (5, "there is no field nothing"),
}


@of_each("text", REFUSED)
def test_a_mistake_in_a_figure_is_refused_when_it_is_checked(text):
    at, message = REFUSED[text]
    with pytest.raises(LanguageError, match=re.escape(message)) as error:
        check_figure(parsed(text), SCOPE)
    assert error.value.at == at


@pytest.mark.parametrize(
    "text",
    [
        f"activity_of({STRENGTH})",
        "product(mass_of(irrigation.additive.concentration), titration.max)",
        "highest_of(site.published, stop_when)",
        "highest_of(site.other, irrigation.additive.name)",
    ],
)
def test_an_amount_that_cannot_be_had_is_no_figure(text):
    leaves = {**LEAVES, "stop_when": Leaf("stop_when", State.KNOWN, "b", None, "no b")}
    assert evaluate_figure(parsed(text), SCOPE, leaves) is None


def test_the_unit_of_a_step_may_be_another_field():
    # A step that is no constant has no unit of its own to show.
    found = evaluate_figure(parsed("settable_below(treat_above, it)"), SCOPE, LEAVES)
    assert format_figure(found, "mmHg") == "0 mmHg"
