"""Of the rulebook's sections on who is told and how often staff look: what bears on the rest."""

from __future__ import annotations

from fractions import Fraction

from oracle.answers import (
    Answer,
    answer,
    at_most,
    below,
    both,
    irrigates,
    rule,
    rule_for_each,
    treats,
)
from oracle.reading import INTERVALS, PERIODS, Order


@rule("notify.icp_above", "pause.upper")
def notify_icp_over_upper_pause(order: Order) -> Answer:
    """Staff are to call only above the upper pause limit."""
    level = order["notify.icp_above"]
    return answer(level.written, at_most(level.value, order["pause.upper"].value))


@rule("notify.icp_above", "treat_above")
def notify_icp_under_treat_above(order: Order) -> Answer:
    """Staff are to call at a level not above the one above which irrigation works."""
    level = order["notify.icp_above"]
    kept = below(order["treat_above"].value, level.value)
    return answer(both(irrigates(order), level.written), kept)


@rule("notify.icp_below", "notify.icp_above")
def notify_levels_reversed(order: Order) -> Answer:
    """Staff are to call below one level and above the other, which is at every pressure."""
    low, high = order["notify.icp_below"], order["notify.icp_above"]
    return answer(low.written and high.written, below(low.value, high.value))


@rule("notify.icp_below", "pause.lower")
def notify_low_icp_under_lower_pause(order: Order) -> Answer:
    """Staff are to call only below the lower pause limit."""
    level = order["notify.icp_below"]
    return answer(level.written, at_most(order["pause.lower"].value, level.value))


@rule("notify.icp_below", "treat_above")
def notify_low_icp_over_treat_above(order: Order) -> Answer:
    """Staff are to call below a level that is not below the treat-above level."""
    level = order["notify.icp_below"]
    kept = below(level.value, order["treat_above"].value)
    return answer(both(treats(order), level.written), kept)


@rule_for_each(*INTERVALS, *PERIODS)
def interval_of_nothing(order: Order, at: str) -> Answer:
    """The time is zero."""
    return answer(order[at].written, below(Fraction(0), order[at].value))


@rule_for_each("monitoring.output_every")
def check_interval_too_long(order: Order, at: str) -> Answer:
    """The interval is longer than 1 h."""
    return answer(order[at].written, at_most(order[at].value, Fraction(1)))


@rule_for_each(*PERIODS)
def limit_unit_unlikely(order: Order, at: str) -> Answer:
    """The period is longer than 4 h."""
    return answer(order[at].written, at_most(order[at].value, Fraction(4)))
