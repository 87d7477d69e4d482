"""The rulebook's sections “Reading, shape and units” and “Notation that can be misread”."""

from __future__ import annotations

from fractions import Fraction

from oracle.answers import (
    Answer,
    answer,
    both,
    choice,
    either,
    one_of,
    opposite,
    rule,
    rule_for_each,
)
from oracle.reading import CARE, CHOICES, FLOWS, KINDS, MMHG, Order

LEVELS = ("pause.lower", "pause.upper", "treat_above", "notify.icp_above", "notify.icp_below")


def _reads(order: Order, at: str, broken: str) -> Answer:
    return answer(order[at].written, order[at].broken != broken)


def _unmarked(order: Order, at: str, mark: str) -> Answer:
    return answer(order[at].written, mark not in order[at].marks)


@rule_for_each(*KINDS)
def unit_missing(order: Order, at: str) -> Answer:
    """The {name} is written as {written}, without a unit."""
    return _reads(order, at, "unit-missing")


@rule_for_each(*KINDS)
def unit_not_known(order: Order, at: str) -> Answer:
    """… {unit} is not a unit used for settings here."""
    return _reads(order, at, "unit-not-known")


@rule_for_each(*CARE)
def care_setting_not_read(order: Order, at: str) -> Answer:
    """The {name} cannot be read as a number and its unit, and nobody keys it in."""
    return _reads(order, at, "care-setting-not-read")


@rule_for_each(*KINDS)
def unit_of_wrong_kind(order: Order, at: str) -> Answer:
    """… {unit} is not a unit of {dimension}."""
    return _reads(order, at, "unit-of-wrong-kind")


@rule_for_each(*KINDS)
def number_form_unsafe(order: Order, at: str) -> Answer:
    """The number of the {name}, {written}, can be misread."""
    return _reads(order, at, "number-form-unsafe")


@rule_for_each(*KINDS)
def number_too_fine(order: Order, at: str) -> Answer:
    """… with more decimals than can be kept exactly."""
    return _reads(order, at, "number-too-fine")


@rule_for_each(*KINDS)
def value_not_conceivable(order: Order, at: str) -> Answer:
    """… which is beyond anything this setting can be."""
    return _reads(order, at, "value-not-conceivable")


@rule_for_each(*KINDS)
def kind_not_expected(order: Order, at: str) -> Answer:
    """The {name} cannot be read."""
    return _reads(order, at, "kind-not-expected")


@rule_for_each(*CHOICES)
def choice_not_known(order: Order, at: str) -> Answer:
    """… which is not one of its choices."""
    return _reads(order, at, "choice-not-known")


@rule_for_each(*KINDS)
def trailing_zero(order: Order, at: str) -> Answer:
    """A number ends in a zero after its decimal point."""
    return _unmarked(order, at, "trailing-zero")


@rule_for_each(*KINDS)
def naked_decimal(order: Order, at: str) -> Answer:
    """A number has no digit before its decimal point."""
    return _unmarked(order, at, "naked-decimal")


@rule_for_each(*KINDS)
def unit_spelling(order: Order, at: str) -> Answer:
    """… with its unit spelled in a way that can be misread."""
    return _unmarked(order, at, "unit-spelling")


@rule_for_each(*KINDS)
def unit_small_l(order: Order, at: str) -> Answer:
    """Millilitres are written as ml, with a small l."""
    return _unmarked(order, at, "unit-small-l")


@rule_for_each(*KINDS)
def unit_run_together(order: Order, at: str) -> Answer:
    """A number and its unit are run together."""
    return _unmarked(order, at, "unit-run-together")


def in_display_unit(order: Order, at: str) -> bool | None:
    """Whether a level is written in the unit that the display shows."""
    unit = order[at].unit
    return choice(order, "display_unit", unit) if unit else None


@rule_for_each(*LEVELS)
def display_unit_differs(order: Order, at: str) -> Answer:
    """The level is written in one unit, but the display shows the other."""
    return answer(order[at].written, in_display_unit(order, at))


@rule_for_each(*FLOWS)
def rate_unit_differs(order: Order, at: str) -> Answer:
    """… and rates are set and read in mL/h."""
    unit = order[at].unit
    return answer(order[at].written, unit == "mL/h" if unit else None)


@rule("drainage.height", "drainage.scale")
def drain_height_in_cm(order: Order) -> Answer:
    """The drain is to be hung by a number in cm, which is a length and no pressure."""
    height, scale = order["drainage.height"], order["drainage.scale"]
    in_cm = "cm alone" in height.marks or "abbreviated" in scale.marks
    return answer(True, not in_cm)


@rule("drainage.height", "drainage.scale")
def drain_height_in_cm_on_mercury(order: Order) -> Answer:
    """The drain height is written as … cm, and the pole is set to mmHg."""
    height, scale = order["drainage.height"], order["drainage.scale"]
    asked = scale.written and "cm alone" in height.marks
    return answer(asked, opposite(choice(order, "drainage.scale", "mmHg")))


@rule("drainage.height", "drainage.scale")
def drain_scale_differs(order: Order) -> Answer:
    """The drain height is written in one unit, but the pole is set to the other."""
    height, scale = order["drainage.height"], order["drainage.scale"]
    hung = either(choice(order, "therapy", "irrigation", "drainage"), scale.written)
    same = choice(order, "drainage.scale", height.unit) if height.unit else None
    return answer(both(height.written, hung), same)


@rule_for_each(*LEVELS)
def pressure_units_mixed(order: Order, at: str) -> Answer:
    """A level in cmH2O, another in mmHg, and the order does not say what the display shows."""
    unit = order[at].unit
    asked = both(
        not order["display_unit"].written,
        order[at].written,
        unit == "cmH2O" if unit else None,
    )
    no_other = [_not_in_mmhg(order, level) for level in LEVELS]
    return answer(asked, both(*no_other))


def _not_in_mmhg(order: Order, level: str) -> bool | None:
    if not order[level].written:
        return True
    return order[level].unit != "mmHg" if order[level].unit else None


@rule("pause.upper")
def likely_other_unit(order: Order) -> Answer:
    """As an upper limit, the number is more usual in the unit that the display shows."""
    upper = order["pause.upper"]
    asked = both(upper.written, opposite(in_display_unit(order, "pause.upper")))
    usual_in_mmhg = one_of(upper.value, *(Fraction(n) for n in (20, 22, 25)))
    usual_in_cmh2o = one_of(upper.value, *(n * MMHG for n in (27, 30, 34)))
    in_cmh2o = upper.unit == "cmH2O" if upper.unit else None
    kept = both(opposite(usual_in_mmhg), either(in_cmh2o, opposite(usual_in_cmh2o)))
    return answer(asked, kept)
