"""Formulas of intracranial volume, pressure and flow, each with its source.

For figures in a report only, as floats: never a verdict on an order or a patient.
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
    """Pressure in mmHg after `retained` mL are added at `start` mmHg: P = Pb · 10^(dV/PVI).

    Source: Shapiro, Marmarou, Shulman 1980. Raises ValueError unless start and index are above 0;
    OverflowError if the result is too large for a float.
    """
    _above_zero(start, index)
    return start * math.pow(10, retained / index)


def volume_between(start: float, end: float, index: float = MEAN_INDEX) -> float:
    """Volume in mL that raises the pressure from `start` to `end` mmHg: PVI · log10(P/Pb).

    The pressure–volume relation solved for the volume; same source. Raises ValueError unless all
    are above 0.
    """
    _above_zero(start, end, index)
    return index * math.log10(end / start)


def compliance(pressure: float, index: float = MEAN_INDEX) -> float:
    """Volume in mL that raises the pressure by 1 mmHg, at `pressure` mmHg: 0.4343 · PVI / P.

    The slope of the pressure–volume relation, 0.4343 being log10 of e; same source. Raises
    ValueError unless both are above 0.
    """
    _above_zero(pressure, index)
    return math.log10(math.e) * index / pressure


def minutes_between(start: float, end: float, inflow: float, index: float = MEAN_INDEX) -> float:
    """Minutes from `start` to `end` mmHg if `inflow` mL/h enters and nothing leaves.

    `inflow` is irrigation plus CSF formation; the volume between the two pressures is divided by
    it. Raises ValueError unless all are above 0.
    """
    _above_zero(inflow)
    return 60 * volume_between(start, end, index) / inflow


def resting_pressure(formation: float, resistance: float, sinus: float) -> float:
    """Pressure in mmHg at which CSF is absorbed as fast as it is formed.

    ICP = formation (mL/min) · resistance (mmHg per mL/min) + sinus pressure (mmHg). Source:
    Davson's equation, with the ranges of AccessPediatrics, ICP chapter. Raises ValueError for a
    formation or resistance below 0.
    """
    _no_less_than_zero(formation, resistance)
    return formation * resistance + sinus


def blocked_rise(rate: float, resistance: float) -> float:
    """Rise in mmHg of the resting pressure if the drain stays blocked.

    `rate` in mL/h must then be absorbed as well: each 60 mL/h adds `resistance` mmHg. Follows from
    Davson's equation. Raises ValueError for a rate or resistance below 0.
    """
    _no_less_than_zero(rate, resistance)
    return rate / 60 * resistance


def tubing_head(flow: float) -> float:
    """Head in cmH2O lost in a drain's tubing at `flow` mL/h: 0.77 at 40 mL/h, linear.

    Source: PMC8239198, a model; only the abstract was read. Raises ValueError for a flow below 0.
    """
    _no_less_than_zero(flow)
    return 0.77 * flow / 40


def _above_zero(*values: float) -> None:
    if not all(0 < value < math.inf for value in values):
        raise ValueError("the relation holds only above zero")


def _no_less_than_zero(*values: float) -> None:
    if not all(0 <= value < math.inf for value in values):
        raise ValueError("no flow and no resistance is below zero")
