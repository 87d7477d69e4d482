"""The rulebook's sections “What the controller can hold” and “Raising the irrigation rate”."""

from __future__ import annotations

from fractions import Fraction

from oracle.answers import (
    Answer,
    Value,
    answer,
    at_most,
    below,
    both,
    by_display,
    either,
    irrigates,
    minus,
    multiple,
    one_of,
    opposite,
    rule,
    rule_for_each,
    times,
)
from oracle.drain import section_written
from oracle.reading import MMHG, Order
from oracle.units import in_display_unit

RATE_STEP = Fraction(1)
LEVELS_SET = ("pause.lower", "pause.upper", "treat_above")


def _settable_rate(rate: Value) -> bool | None:
    return both(at_most(Fraction(3), rate), at_most(rate, Fraction(180)))


@rule("irrigation.rate")
def rate_outside_range(order: Order) -> Answer:
    """The irrigation rate is outside 3 mL/h to 180 mL/h."""
    return answer(irrigates(order), _settable_rate(order["irrigation.rate"].value))


@rule("irrigation.rate")
def rate_not_settable(order: Order) -> Answer:
    """The irrigation rate lies between two settings: no whole multiple of 1 mL/h."""
    return answer(irrigates(order), multiple(order["irrigation.rate"].value, RATE_STEP))


def _in_range(order: Order, at: str) -> Answer:
    level = order[at].value
    on_mmhg = both(at_most(-99 * MMHG, level), at_most(level, 99 * MMHG))
    on_cmh2o = both(at_most(Fraction(-99), level), at_most(level, Fraction(99)))
    return by_display(order, order[at].written, on_mmhg, on_cmh2o)


@rule("treat_above")
def treat_above_outside_range(order: Order) -> Answer:
    """The treat-above level is outside -99 to 99 of what the display shows."""
    return _in_range(order, "treat_above")


@rule_for_each("pause.lower", "pause.upper")
def pause_limit_outside_range(order: Order, at: str) -> Answer:
    """The pause limit is outside -99 to 99 of what the display shows."""
    return _in_range(order, at)


def _on_a_step(order: Order, at: str, asked: bool | None) -> Answer:
    level = order[at].value
    return by_display(order, asked, multiple(level, MMHG), multiple(level, Fraction(1)))


@rule_for_each(*LEVELS_SET)
def level_not_settable(order: Order, at: str) -> Answer:
    """The level, in the unit of the display, lies between two settings of the controller."""
    return _on_a_step(order, at, both(order[at].written, in_display_unit(order, at)))


@rule_for_each(*LEVELS_SET)
def level_not_settable_when_converted(order: Order, at: str) -> Answer:
    """The level, in the other unit, lies between two settings on the display."""
    return _on_a_step(order, at, both(order[at].written, opposite(in_display_unit(order, at))))


@rule("irrigation.bag")
def bag_not_stocked(order: Order) -> Answer:
    """A bag of another size than 500 mL and 1000 mL."""
    bag = order["irrigation.bag"]
    kept = one_of(bag.value, Fraction(500), Fraction(1000))
    return answer(both(irrigates(order), bag.written), kept)


@rule("titration.max")
def titration_over_capability(order: Order) -> Answer:
    """The highest rate that titration may reach is outside 3 mL/h to 180 mL/h."""
    highest = order["titration.max"]
    return answer(both(irrigates(order), highest.written), _settable_rate(highest.value))


@rule("titration.max", "irrigation.rate")
def titration_maximum_under_rate(order: Order) -> Answer:
    """The highest rate that titration may reach is below the ordered rate."""
    highest = order["titration.max"]
    kept = at_most(order["irrigation.rate"].value, highest.value)
    return answer(both(irrigates(order), highest.written), kept)


@rule("titration.max", "drainage.hourly_max")
def titration_over_output_limit(order: Order) -> Answer:
    """The highest rate that titration may reach is not below the hourly output limit."""
    highest, limit = order["titration.max"], order["drainage.hourly_max"]
    asked = both(irrigates(order), highest.written, limit.written)
    return answer(asked, below(highest.value, limit.value))


@rule_for_each("titration.step", "titration.max")
def titration_not_settable(order: Order, at: str) -> Answer:
    """Step or highest rate leads to a rate that the controller cannot be set to."""
    asked = both(irrigates(order), order[at].written)
    return answer(asked, multiple(order[at].value, RATE_STEP))


@rule("titration.step", "titration.every", "titration.max")
def titration_incomplete(order: Order) -> Answer:
    """The rate may be raised, but not all of step, interval and highest rate is written."""
    asked = both(irrigates(order), section_written(order, "titration"))
    parts = ("titration.step", "titration.every", "titration.max")
    return answer(asked, all(order[part].written for part in parts))


@rule("titration.goal")
def titration_goal_missing(order: Order) -> Answer:
    """The rate may be raised, and the order does not say to what end."""
    asked = both(irrigates(order), section_written(order, "titration"))
    return answer(asked, order["titration.goal"].written)


@rule("titration.step", "irrigation.rate", "titration.max")
def titration_step_over_range(order: Order) -> Answer:
    """One step would take the rate past its highest."""
    step, highest = order["titration.step"], order["titration.max"]
    asked = both(irrigates(order), step.written, highest.written)
    room = minus(highest.value, order["irrigation.rate"].value)
    return answer(asked, at_most(step.value, room))


@rule("titration.step", "irrigation.rate")
def titration_step_large(order: Order) -> Answer:
    """One step is more than half the rate, and more than 10 mL/h."""
    step = order["titration.step"]
    half = at_most(times(step.value, Fraction(2)), order["irrigation.rate"].value)
    kept = either(half, at_most(step.value, Fraction(10)))
    return answer(both(irrigates(order), step.written), kept)


@rule("titration.every")
def titration_steps_too_close(order: Order) -> Answer:
    """The rate may be raised again within less than 30 min."""
    every = order["titration.every"]
    kept = at_most(Fraction(1, 2), every.value)
    return answer(both(irrigates(order), every.written), kept)


@rule("titration.every", "monitoring.output_every")
def titration_before_output_check(order: Order) -> Answer:
    """The rate may be raised before the output has been checked since the last time."""
    every, check = order["titration.every"], order["monitoring.output_every"]
    asked = both(irrigates(order), every.written, check.written)
    return answer(asked, at_most(check.value, every.value))
