"""The rulebook's section “Volumes and flow”."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from oracle.answers import (
    Answer,
    Value,
    adult,
    answer,
    at_most,
    below,
    both,
    drains,
    either,
    irrigates,
    opposite,
    plus,
    rule,
    rule_for_each,
    times,
)

if TYPE_CHECKING:
    from oracle.reading import Order

CSF = Fraction(20)  # csf_rate, mL/h; the policy has none for children and infants
DAY = Fraction(24)
ADDITIVE = ("name", "concentration", "class")


def highest_rate(order: Order) -> Value:
    """The highest ordered rate: of a titration where one is written, else the irrigation rate."""
    if order["titration.max"].written:
        return order["titration.max"].value
    return order["irrigation.rate"].value


def _expected_output(order: Order) -> Value:
    return plus(highest_rate(order), CSF)


@rule("drainage.hourly_max", "irrigation.rate")
def output_limit_under_rate(order: Order) -> Answer:
    """The hourly output limit is not above the irrigation rate."""
    limit = order["drainage.hourly_max"]
    kept = below(order["irrigation.rate"].value, limit.value)
    return answer(both(irrigates(order), limit.written), kept)


@rule("irrigation.rate")
def irrigation_rate_high(order: Order) -> Answer:
    """The irrigation rate is above 90 mL/h; adults alone."""
    kept = at_most(order["irrigation.rate"].value, Fraction(90))
    return answer(both(irrigates(order), adult(order)), kept)


@rule("drainage.hourly_max", "irrigation.rate", "titration.max")
def output_limit_under_expected(order: Order) -> Answer:
    """The limit is below the highest ordered rate and about 20 mL/h; adults alone."""
    limit = order["drainage.hourly_max"]
    asked = both(irrigates(order), adult(order), limit.written)
    return answer(asked, at_most(_expected_output(order), limit.value))


@rule("drainage.hourly_max", "irrigation.rate", "titration.max")
def output_limit_far_over_expected(order: Order) -> Answer:
    """The limit is over twice what is to be expected, or over 60 mL/h more; adults alone."""
    limit = order["drainage.hourly_max"]
    asked = both(irrigates(order), adult(order), limit.written)
    expected = _expected_output(order)
    twice = at_most(limit.value, times(expected, Fraction(2)))
    return answer(asked, both(twice, at_most(limit.value, plus(expected, Fraction(60)))))


@rule("drainage.hourly_max")
def output_limit_large_draining(order: Order) -> Answer:
    """The hourly output limit is above 30 mL/h, and nothing runs in; adults alone."""
    limit = order["drainage.hourly_max"]
    nothing_in = not any(path.startswith("irrigation.") for path in order)
    asked = both(drains(order), adult(order), limit.written, nothing_in)
    return answer(asked, at_most(limit.value, Fraction(30)))


@rule("irrigation.rate", "irrigation.daily_max")
def daily_limit_reached_early(order: Order) -> Answer:
    """At the ordered rate the daily irrigation limit is reached before 24 h."""
    limit = order["irrigation.daily_max"]
    kept = at_most(times(order["irrigation.rate"].value, DAY), limit.value)
    return answer(both(irrigates(order), limit.written), kept)


@rule("titration.max", "irrigation.daily_max")
def daily_limit_reached_by_titration(order: Order) -> Answer:
    """At the highest rate of titration the daily irrigation limit is reached before 24 h."""
    limit, highest = order["irrigation.daily_max"], order["titration.max"]
    asked = both(irrigates(order), limit.written, highest.written)
    return answer(asked, at_most(times(highest.value, DAY), limit.value))


@rule("irrigation.rate", "irrigation.bag")
def bag_empties_too_soon(order: Order) -> Answer:
    """At the ordered rate a bag is empty within less than 4 h."""
    bag = order["irrigation.bag"]
    kept = at_most(times(order["irrigation.rate"].value, Fraction(4)), bag.value)
    return answer(both(irrigates(order), bag.written), kept)


@rule("irrigation.rate", "irrigation.bag", "irrigation.bag_change_every")
def additive_bag_hangs_long(order: Order) -> Answer:
    """A bag with an additive hangs for longer than 24 h."""
    bag, change = order["irrigation.bag"], order["irrigation.bag_change_every"]
    additive = any(order[f"irrigation.additive.{part}"].written for part in ADDITIVE)
    changed = both(change.written, at_most(change.value, DAY))
    empty = at_most(bag.value, times(order["irrigation.rate"].value, DAY))
    return answer(both(irrigates(order), bag.written, additive), either(changed, empty))


@rule("irrigation.rate", "irrigation.bag", "irrigation.bag_change_every")
def bag_hangs_long(order: Order) -> Answer:
    """A bag is neither changed nor empty within 96 h."""
    bag, change = order["irrigation.bag"], order["irrigation.bag_change_every"]
    empty = at_most(bag.value, times(order["irrigation.rate"].value, 4 * DAY))
    asked = both(irrigates(order), bag.written, change.written)
    return answer(asked, either(at_most(change.value, 4 * DAY), empty))


@rule("drainage.bag", "monitoring.output_every", "irrigation.rate", "titration.max")
def collection_bag_fills_between_checks(order: Order) -> Answer:
    """A collection bag can be full before the output is looked at again; adults alone."""
    bag, every = order["drainage.bag"], order["monitoring.output_every"]
    asked = both(irrigates(order), adult(order), bag.written, every.written)
    return answer(asked, at_most(times(_expected_output(order), every.value), bag.value))


@rule("notify.net_in.above", "notify.net_in.within")
def net_in_limit_large(order: Order) -> Answer:
    """A call when more than 15 mL has stayed in, or within more than 1 h."""
    above, within = order["notify.net_in.above"], order["notify.net_in.within"]
    kept = both(at_most(above.value, Fraction(15)), at_most(within.value, Fraction(1)))
    return answer(above.written and within.written, kept)


def _no_output_call(order: Order) -> bool | None:
    """Whether a call after 15 mL or less with nothing drained is left."""
    volume = order["notify.no_output_after"]
    return both(volume.written, at_most(volume.value, Fraction(15)))


def _reached_in_an_hour(order: Order) -> bool | None:
    return below(order["notify.net_in.above"].value, order["irrigation.rate"].value)


def _net_in_asked(order: Order) -> bool | None:
    above, within = order["notify.net_in.above"], order["notify.net_in.within"]
    return both(irrigates(order), above.written, within.written)


def _net_in_reached(order: Order) -> bool | None:
    runs_in = times(order["irrigation.rate"].value, order["notify.net_in.within"].value)
    return below(order["notify.net_in.above"].value, runs_in)


@rule("notify.net_in.above", "notify.net_in.within", "irrigation.rate", "notify.no_output_after")
def net_in_limit_never_reached(order: Order) -> Answer:
    """At the ordered rate no more than the volume of the call runs in by then."""
    left = both(_no_output_call(order), opposite(_reached_in_an_hour(order)))
    asked = both(_net_in_asked(order), opposite(left))
    return answer(asked, _net_in_reached(order))


@rule("notify.net_in.above", "notify.net_in.within", "irrigation.rate", "notify.no_output_after")
def net_in_limit_left_to_no_output(order: Order) -> Answer:
    """The same, and what is left is the call after so much with nothing drained."""
    asked = both(_net_in_asked(order), _no_output_call(order))
    return answer(asked, either(_net_in_reached(order), _reached_in_an_hour(order)))


@rule("notify.net_out.above", "notify.net_out.within")
def net_out_limit_large(order: Order) -> Answer:
    """A call when more than 30 mL more has drained than run in, or within more than 1 h."""
    above, within = order["notify.net_out.above"], order["notify.net_out.within"]
    kept = both(at_most(above.value, Fraction(30)), at_most(within.value, Fraction(1)))
    return answer(above.written and within.written, kept)


@rule("notify.net_out.above", "notify.net_out.within")
def net_out_limit_hardly_reached(order: Order) -> Answer:
    """A call only where what is lost within the time is lost faster than 120 mL/h."""
    above, within = order["notify.net_out.above"], order["notify.net_out.within"]
    kept = at_most(above.value, times(Fraction(120), within.value))
    return answer(above.written and within.written, kept)


@rule("notify.no_output_after")
def no_output_limit_large(order: Order) -> Answer:
    """A call only after more than 15 mL has run in with nothing drained."""
    volume = order["notify.no_output_after"]
    return answer(volume.written, at_most(volume.value, Fraction(15)))


@rule_for_each(
    "irrigation.bag", "irrigation.daily_max", "drainage.bag",
    "notify.net_in.above", "notify.net_out.above", "notify.no_output_after",
)  # fmt: skip
def volume_of_nothing(order: Order, at: str) -> Answer:
    """The volume is zero."""
    return answer(order[at].written, below(Fraction(0), order[at].value))


@rule_for_each("titration.step", "drainage.hourly_max")
def flow_of_nothing(order: Order, at: str) -> Answer:
    """The flow is zero."""
    return answer(order[at].written, below(Fraction(0), order[at].value))
