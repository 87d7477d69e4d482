"""The rulebook's section “The pressure band in which the controller works”."""

from __future__ import annotations

from fractions import Fraction

from oracle.answers import (
    Answer,
    adult,
    answer,
    at_most,
    below,
    both,
    by_display,
    choice,
    drains,
    irrigates,
    minus,
    rule,
    rule_for_each,
    treats,
)
from oracle.reading import MMHG, Order

ZERO = Fraction(0)


@rule("pause.lower", "pause.upper")
def pause_limits_reversed(order: Order) -> Answer:
    """The lower pause limit is not below the upper pause limit."""
    return answer(True, below(order["pause.lower"].value, order["pause.upper"].value))


@rule("treat_above", "pause.upper")
def treat_above_over_upper_pause(order: Order) -> Answer:
    """Irrigation would never run: starts only above one level, pauses above the other."""
    kept = below(order["treat_above"].value, order["pause.upper"].value)
    return answer(irrigates(order), kept)


@rule("treat_above", "pause.lower")
def treat_above_under_lower_pause(order: Order) -> Answer:
    """The treat-above level lies below the lower pause limit."""
    kept = at_most(order["pause.lower"].value, order["treat_above"].value)
    return answer(treats(order), kept)


@rule("treat_above", "pause.upper")
def treat_above_over_upper_pause_draining(order: Order) -> Answer:
    """The treat-above level lies above the upper pause limit, while draining."""
    kept = at_most(order["treat_above"].value, order["pause.upper"].value)
    return answer(drains(order), kept)


@rule("treat_above", "pause.upper")
def treating_window_narrow(order: Order) -> Answer:
    """Irrigation has only {window} to work in; 5 mmHg or more would be consistent."""
    window = minus(order["pause.upper"].value, order["treat_above"].value)
    return answer(irrigates(order), at_most(5 * MMHG, window))


@rule("pause.upper")
def upper_pause_far_over_threshold(order: Order) -> Answer:
    """Irrigation goes on up to a pressure that harms: 30 mmHg, or 41 cmH2O; adults alone."""
    upper = order["pause.upper"].value
    asked = both(irrigates(order), adult(order))
    return by_display(order, asked, at_most(upper, 30 * MMHG), at_most(upper, Fraction(41)))


@rule("pause.upper")
def upper_pause_over_adult_threshold(order: Order) -> Answer:
    """Irrigation goes on at a pressure that is usually treated: 22 mmHg, or 30 cmH2O."""
    upper = order["pause.upper"].value
    asked = both(irrigates(order), adult(order))
    return by_display(order, asked, at_most(upper, 22 * MMHG), at_most(upper, Fraction(30)))


@rule("pause.upper")
def upper_pause_over_child_threshold(order: Order) -> Answer:
    """The upper pause limit is above 20 mmHg in an order for a child."""
    asked = both(irrigates(order), choice(order, "patient.group", "child"))
    return answer(asked, at_most(order["pause.upper"].value, 20 * MMHG))


@rule("pause.upper")
def upper_pause_in_normal_range(order: Order) -> Answer:
    """The upper pause limit is not above 15 mmHg, normal for an adult lying down."""
    asked = both(irrigates(order), adult(order))
    return answer(asked, below(15 * MMHG, order["pause.upper"].value))


@rule("pause.lower")
def lower_pause_negative(order: Order) -> Answer:
    """The lower pause limit is below zero."""
    return answer(treats(order), at_most(ZERO, order["pause.lower"].value))


@rule("treat_above")
def treat_above_in_low_normal(order: Order) -> Answer:
    """The treat-above level is not above 5 mmHg, or 7 cmH2O; adults alone.

    Its sentence quotes the drain height in brackets, and the rule is not about it.
    """
    level = order["treat_above"].value
    asked = both(treats(order), adult(order))
    return by_display(order, asked, below(5 * MMHG, level), below(Fraction(7), level))


@rule("treat_above")
def treat_above_high(order: Order) -> Answer:
    """Irrigation starts only at a pressure that is raised already: above 15 mmHg."""
    return answer(irrigates(order), at_most(order["treat_above"].value, 15 * MMHG))


@rule("treat_above")
def treat_above_negative(order: Order) -> Answer:
    """The treat-above level is below zero."""
    return answer(treats(order), at_most(ZERO, order["treat_above"].value))


@rule("targets.map", "targets.cpp_min", "notify.icp_above")
def perfusion_below_minimum(order: Order) -> Answer:
    """At the level at which staff are to call, perfusion pressure is below the minimum."""
    target, minimum, level = (
        order["targets.map"], order["targets.cpp_min"], order["notify.icp_above"],
    )  # fmt: skip
    asked = target.written and minimum.written and level.written
    return answer(asked, at_most(minimum.value, minus(target.value, level.value)))


@rule("targets.map", "targets.cpp_min", "pause.upper")
def perfusion_below_minimum_at_pause(order: Order) -> Answer:
    """At the upper pause limit, perfusion pressure is below the minimum."""
    target, minimum = order["targets.map"], order["targets.cpp_min"]
    perfusion = minus(target.value, order["pause.upper"].value)
    return answer(target.written and minimum.written, at_most(minimum.value, perfusion))


@rule("targets.cpp_min")
def perfusion_target_outside_guideline(order: Order) -> Answer:
    """The perfusion pressure minimum is outside 60 mmHg to 70 mmHg; adults alone."""
    minimum = order["targets.cpp_min"]
    kept = both(at_most(60 * MMHG, minimum.value), at_most(minimum.value, 70 * MMHG))
    return answer(both(adult(order), minimum.written), kept)


@rule("targets.cpp_min")
def perfusion_target_unlikely(order: Order) -> Answer:
    """The perfusion pressure minimum is outside 40 mmHg to 100 mmHg; adults alone."""
    minimum = order["targets.cpp_min"]
    kept = both(at_most(40 * MMHG, minimum.value), at_most(minimum.value, 100 * MMHG))
    return answer(both(adult(order), minimum.written), kept)


@rule("targets.map")
def map_target_unlikely(order: Order) -> Answer:
    """The target of mean arterial pressure is outside 50 mmHg to 130 mmHg; adults alone."""
    target = order["targets.map"]
    kept = both(at_most(50 * MMHG, target.value), at_most(target.value, 130 * MMHG))
    return answer(both(adult(order), target.written), kept)


@rule_for_each("targets.map", "targets.cpp_min")
def perfusion_unit_unlikely(order: Order, at: str) -> Answer:
    """A pressure that is measured in mercury is written in cmH2O."""
    unit = order[at].unit
    return answer(order[at].written, unit == "mmHg" if unit else None)
