"""Formulas of intracranial volume, pressure and flow, each with its source.

For figures in a report only, in floats: never a verdict, on an order or on a patient.
"""

from __future__ import annotations

import math

MEAN_INDEX = 25.9
"""Pressure–volume index in mL, the mean of seven adults.

Source: Shapiro, Marmarou, Shulman 1980, doi 10.1002/ana.410070603.
"""

INDEX_SD = 3.7
"""Standard deviation of the index in mL. Source: the same."""

STIFF_INDEX = 18.5
"""The index of a stiff brain in mL: two standard deviations below the mean of the same seven."""

RESISTANCE_RANGE = (6.0, 10.0)
"""Normal resistance to outflow of CSF, mmHg per mL/min. Source: AccessPediatrics, ICP chapter."""

SINUS_RANGE = (5.0, 8.0)
"""Normal pressure in the venous sinus, mmHg. Source: the same."""


def pressure_after(retained: float, start: float, index: float = MEAN_INDEX) -> float:
    """The pressure in mmHg after `retained` mL more at `start` mmHg: P = Pb · 10^(dV/PVI).

    Source: Shapiro, Marmarou, Shulman 1980. Raises ValueError unless start and index are above 0;
    OverflowError for a pressure beyond all numbers.
    """
    _above_zero(start, index)
    return start * math.pow(10, retained / index)


def volume_between(start: float, end: float, index: float = MEAN_INDEX) -> float:
    """The mL that take the pressure from `start` to `end` mmHg: dV = PVI · log10(P/Pb).

    The pressure–volume relation, solved for the volume; the same source. Raises ValueError unless
    all are above 0.
    """
    _above_zero(start, end, index)
    return index * math.log10(end / start)


def compliance(pressure: float, index: float = MEAN_INDEX) -> float:
    """The mL that raise the pressure by 1 mmHg, at `pressure` mmHg: 0.4343 · PVI / P.

    The slope of the pressure–volume relation, 0.4343 being log10 of e; the same source. Raises
    ValueError unless both are above 0.
    """
    _above_zero(pressure, index)
    return math.log10(math.e) * index / pressure


def minutes_between(start: float, end: float, inflow: float, index: float = MEAN_INDEX) -> float:
    """Minutes from `start` to `end` mmHg where `inflow` mL/h comes in and nothing leaves.

    `inflow` is the rate of irrigation with the formation of CSF. The volume between the two
    pressures, divided by the inflow. Raises ValueError unless all are above 0.
    """
    _above_zero(inflow)
    return 60 * volume_between(start, end, index) / inflow


def resting_pressure(formation: float, resistance: float, sinus: float) -> float:
    """The pressure in mmHg at which CSF is absorbed as fast as it is formed.

    ICP = formation (mL/min) · resistance (mmHg per mL/min) + sinus pressure (mmHg). Source:
    Davson's equation, with the ranges of AccessPediatrics, ICP chapter.
    """
    return formation * resistance + sinus


def blocked_rise(rate: float, resistance: float) -> float:
    """The mmHg by which the pressure settles higher when the drain stays blocked for good.

    `rate` in mL/h must then be absorbed too: each 60 mL/h adds `resistance` mmHg. Follows from
    Davson's equation.
    """
    return rate / 60 * resistance


def pressure_during_infusion(  # noqa: PLR0913 - one parameter a physical quantity
    minutes: float,
    rate: float,
    baseline: float,
    resistance: float,
    *,
    reference: float = 0.0,
    index: float = MEAN_INDEX,
) -> float:
    """The pressure in mmHg `minutes` after an infusion of `rate` mL/min began at `baseline`.

    Closed form of dP/dt = (ln 10 / PVI) · (P − P0) · [I + (Pb − P) / R], P0 being `reference`:
    the pressure–volume relation of Shapiro, Marmarou, Shulman 1980 with outflow through the
    resistance R. It levels off at Pb + I · R. Raises ValueError unless resistance and index are
    above 0, and baseline and plateau above the reference.
    """
    start, plateau = baseline - reference, baseline + rate * resistance - reference
    _above_zero(start, plateau, resistance, index)
    # Written with the decaying exponential, which cannot overflow.
    fading = math.exp(-minutes * math.log(10) * plateau / (index * resistance))
    return reference + plateau / (1 + (plateau / start - 1) * fading)


def tubing_head(flow: float) -> float:
    """The head in cmH2O that a drain's tubing takes up at `flow` mL/h: 0.77 at 40 mL/h, linear.

    Source: PMC8239198, a model; only the abstract was read.
    """
    return 0.77 * flow / 40


def _above_zero(*values: float) -> None:
    if not all(value > 0 for value in values):
        raise ValueError("the relation holds only above zero")
