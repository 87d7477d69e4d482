"""The rulebook's sections on the height of the drain, and on settings without use."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from oracle.answers import (
    Answer,
    adult,
    answer,
    at_most,
    below,
    both,
    choice,
    drains,
    either,
    irrigates,
    minus,
    opposite,
    plus,
    rule,
    rule_for_each,
    times,
    treats,
)
from oracle.volumes import CSF, highest_rate

if TYPE_CHECKING:
    from oracle.reading import Order


def _hangs_at_most(order: Order, level: str) -> bool | None:
    return at_most(order["drainage.height"].value, order[level].value)


@rule("drainage.height", "treat_above")
def drain_above_treat_above(order: Order) -> Answer:
    """The drain hangs above the level above which irrigation starts."""
    return answer(irrigates(order), _hangs_at_most(order, "treat_above"))


@rule("drainage.height", "pause.upper")
def drain_above_upper_pause(order: Order) -> Answer:
    """The drain hangs at or above the upper pause limit."""
    kept = below(order["drainage.height"].value, order["pause.upper"].value)
    return answer(irrigates(order), kept)


@rule("drainage.height", "treat_above")
def drain_later_than_ordered(order: Order) -> Answer:
    """The drain valve opens above one level, but the drain hangs higher, while draining."""
    return answer(drains(order), _hangs_at_most(order, "treat_above"))


@rule("drainage.height", "treat_above", "irrigation.rate", "titration.max")
def drain_margin_small(order: Order) -> Answer:
    """The margin between drain and treat-above level is small for the highest ordered rate.

    1 cmH2O, and 0.77 cmH2O more for each 40 mL/h of that rate and what the patient makes.
    """
    asked = both(irrigates(order), adult(order), _hangs_at_most(order, "treat_above"))
    margin = minus(order["treat_above"].value, order["drainage.height"].value)
    rise = times(plus(highest_rate(order), CSF), Fraction("0.77") / 40)
    return answer(asked, at_most(rise, minus(margin, Fraction(1))))


@rule("drainage.height")
def drain_below_landmark(order: Order) -> Answer:
    """The drain hangs below the zero landmark."""
    height = order["drainage.height"]
    return answer(height.written, at_most(Fraction(0), height.value))


@rule("drainage.height", "treat_above")
def drain_far_below_treat_above(order: Order) -> Answer:
    """The drain hangs more than 20 cmH2O below the treat-above level."""
    head = minus(order["treat_above"].value, order["drainage.height"].value)
    return answer(treats(order), at_most(head, Fraction(20)))


@rule("drainage.height", "pause.lower")
def drain_under_lower_pause(order: Order) -> Answer:
    """The drain hangs below the lower pause limit."""
    kept = at_most(order["pause.lower"].value, order["drainage.height"].value)
    return answer(treats(order), kept)


@rule_for_each("drainage.height", "treat_above")
def lesion_unsecured_drain_low(order: Order, at: str) -> Answer:
    """The level is low, under 15 cmH2O, for an unsecured vascular lesion."""
    lesion = order["patient.vascular_lesion"]
    unsecured = choice(order, "patient.vascular_lesion", "unsecured")
    return answer(
        both(treats(order), lesion.written, unsecured), at_most(Fraction(15), order[at].value)
    )


@rule("patient.vascular_lesion")
def lesion_unsecured_irrigation(order: Order) -> Answer:
    """Irrigation is ordered while the vascular lesion is unsecured."""
    asked = both(irrigates(order), order["patient.vascular_lesion"].written)
    return answer(asked, opposite(choice(order, "patient.vascular_lesion", "unsecured")))


def section_written(order: Order, section: str) -> bool:
    return any(path.startswith(f"{section}.") for path in order)


@rule("irrigation", "transport.irrigation")
def irrigation_settings_without_irrigation(order: Order) -> Answer:
    """The therapy is not irrigation, and yet irrigation settings are written."""
    goes_on = both(
        order["transport.irrigation"].written, choice(order, "transport.irrigation", "on")
    )
    kept = both(not section_written(order, "irrigation"), opposite(goes_on))
    return answer(choice(order, "therapy", "drainage", "monitoring"), kept)


@rule("treat_above", "drainage.hourly_max", "drainage.at_hourly_max")
def drainage_settings_while_monitoring(order: Order) -> Answer:
    """The therapy is monitoring, and yet a treat-above level or an output limit is written."""
    kept = not (
        order["treat_above"].written
        or order["drainage.hourly_max"].written
        or order["drainage.at_hourly_max"].written
    )
    return answer(choice(order, "therapy", "monitoring"), kept)


@rule("titration")
def titration_without_irrigation(order: Order) -> Answer:
    """The therapy is not irrigation, and yet steps for raising the rate are written."""
    asked = choice(order, "therapy", "drainage", "monitoring")
    return answer(asked, not section_written(order, "titration"))


@rule("drainage.at_hourly_max")
def output_limit_closes_drain(order: Order) -> Answer:
    """The drain is to be clamped at the output limit, and nothing stops irrigation first."""
    asked = both(irrigates(order), order["drainage.at_hourly_max"].written)
    return answer(asked, opposite(choice(order, "drainage.at_hourly_max", "clamp")))


@rule("transport.irrigation", "transport.drain")
def transport_irrigation_while_clamped(order: Order) -> Answer:
    """During transport irrigation is to stay on while the drain is clamped."""
    asked = order["transport.irrigation"].written and order["transport.drain"].written
    kept = either(
        choice(order, "transport.irrigation", "off"), choice(order, "transport.drain", "open")
    )
    return answer(asked, kept)
