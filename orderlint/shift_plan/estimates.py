"""Estimates of pressure and volume from an order's settings, or why there are none.

For reading with a plan. Never a verdict, nor an estimate whose assumptions may not hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from orderlint import physiology as p
from orderlint.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from orderlint.order import Leaf

    EstimateKind: TypeAlias = Literal[
        "compliance at treat-above",
        "volume to upper pause",
        "time to upper pause",
        "time to upper pause at titration maximum",
        "pressure after net-in volume",
        "rise with outflow blocked",
        "steady state with outflow blocked",
        "head lost in tubing",
    ]
    Case: TypeAlias = Literal[
        "average brain",
        "stiff brain",
        "lowest normal values",
        "highest normal values",
        "at the ordered rate",
    ]

BRAINS: tuple[tuple[Case, float], ...] = (
    ("average brain", p.MEAN_INDEX),
    ("stiff brain", p.STIFF_INDEX),
)
"""The two pressure–volume indices, in mL, for which estimates are given."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """One quantity in each of its cases, in its unit; infinite if beyond a float."""

    kind: EstimateKind
    cases: tuple[tuple[Case, float], ...]
    unit: str


@dataclass(frozen=True, slots=True)
class Estimates:
    """The estimates; for those left out, the paths of missing settings, and reasons in words."""

    items: tuple[Estimate, ...]
    missing: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()


_GATES = ("therapy", "patient.group", "patient.bone_flap")
_NEEDED = ("treat_above", "pause.upper", "irrigation.rate")


def estimate(leaves: Mapping[str, Leaf], formation: int | None) -> Estimates:
    """Make the estimates for an order with these leaves.

    `formation` is CSF formation in ticks of flow, None if no value is held for the patient.
    """
    closed = _closed(leaves, formation)
    if closed:
        return Estimates((), (), closed)
    missing = tuple(path for path in (*_GATES, *_NEEDED) if not leaves[path].known)
    if missing or formation is None:
        return Estimates((), missing)
    settings = {path: _number(leaves[path]) for path in (*_NEEDED, *_OPTIONAL)}
    reasons = tuple(_reasons(settings))
    if reasons:
        return Estimates((), (), reasons)
    made = tuple(_figures(settings, float(in_unit(formation, "mL/h"))))
    net_in = "notify.net_in.above"
    settles = any(figure.kind == "steady state with outflow blocked" for figure in made)
    missing = () if leaves[net_in].known else (net_in,)
    return Estimates(made, missing, () if settles else (_SETTLES_BELOW,))


_OPTIONAL = ("titration.max", "notify.net_in.above")
_SETTLES_BELOW = (
    "with the drain blocked for good ICP would settle at or below the treat-above level, where "
    "nothing is irrigated"
)


def _closed(leaves: Mapping[str, Leaf], formation: int | None) -> tuple[str, ...]:
    """Give the reasons, as far as known, not to apply the relation to this patient or therapy."""
    therapy, group, flap = (leaves[path].value for path in _GATES)
    reasons = []
    if therapy in {"drainage", "monitoring"}:
        reasons.append("the order does not irrigate")
    if group in {"child", "infant"}:
        patient = "an infant" if group == "infant" else f"a {group}"
        reasons.append(f"the index was measured in seven adults, and the patient is {patient}")
    elif group is not None and formation is None:
        reasons.append("no rate of CSF formation is held for this patient group")
    if flap == "removed":
        reasons.append("the relation is for a closed skull, and the bone flap is removed")
    return tuple(reasons)


def _number(leaf: Leaf) -> float | None:
    """Convert a quantity to mmHg, mL or mL/h."""
    units = {"mmHg": "mmHg", "cmH2O": "mmHg", "mL": "mL", "L": "mL"}
    if not leaf.known or not isinstance(leaf.value, int):
        return None
    return float(in_unit(leaf.value, units.get(leaf.unit or "", "mL/h")))


def _reasons(settings: Mapping[str, float | None]) -> Iterator[str]:
    start, end, rate = (settings[path] or 0.0 for path in _NEEDED)
    if start <= 0:
        yield "the relation holds only above 0 mmHg, and the treat-above level is not above it"
    elif end <= start:
        yield "the upper pause limit is not above the treat-above level"
    if rate <= 0:
        yield "the irrigation rate is zero"


def _figures(settings: Mapping[str, float | None], formation: float) -> Iterator[Estimate]:
    start, end, rate = (settings[path] or 0.0 for path in _NEEDED)
    most, retained = (settings[path] for path in _OPTIONAL)
    compliances = tuple((case, p.compliance(start, index)) for case, index in BRAINS)
    yield Estimate("compliance at treat-above", compliances, "mL/mmHg")
    volumes = tuple((case, p.volume_between(start, end, index)) for case, index in BRAINS)
    yield Estimate("volume to upper pause", volumes, "mL")
    yield _time("time to upper pause", start, end, rate + formation)
    if most is not None and most > rate:
        yield _time("time to upper pause at titration maximum", start, end, most + formation)
    if retained is not None:
        after = tuple((case, _retained(retained, start, index)) for case, index in BRAINS)
        yield Estimate("pressure after net-in volume", after, "mmHg")
    yield from _blocked(rate, formation, start)
    head = p.tubing_head(rate + formation)
    yield Estimate("head lost in tubing", (("at the ordered rate", head),), "cmH2O")


def _time(kind: EstimateKind, start: float, end: float, inflow: float) -> Estimate:
    minutes = tuple((case, p.minutes_between(start, end, inflow, index)) for case, index in BRAINS)
    return Estimate(kind, minutes, "min")


def _retained(volume: float, start: float, index: float) -> float:
    try:
        return p.pressure_after(volume, start, index)
    except OverflowError:
        return math.inf


def _blocked(rate: float, formation: float, treat_above: float) -> Iterator[Estimate]:
    """Outflow blocked permanently, at both ends of the normal range.

    A case in which ICP would settle where nothing is irrigated is left out.
    """
    ends: tuple[Case, Case] = ("lowest normal values", "highest normal values")
    rises, settles = [], []
    for case, resistance, sinus in zip(ends, p.RESISTANCE_RANGE, p.SINUS_RANGE, strict=True):
        rise = p.blocked_rise(rate, resistance)
        settled = p.resting_pressure(formation / 60, resistance, sinus) + rise
        if settled > treat_above:
            rises.append((case, rise))
            settles.append((case, settled))
    if settles:
        yield Estimate("rise with outflow blocked", tuple(rises), "mmHg")
        yield Estimate("steady state with outflow blocked", tuple(settles), "mmHg")
