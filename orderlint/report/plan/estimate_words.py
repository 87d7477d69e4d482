"""The words of a plan's estimates: what each is, its value, and what it holds for.

Never an estimate of its own, and never a layout.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from orderlint.quantity_words import format_number
from orderlint.report.order.segment_words import list_missing
from orderlint.units import TICKS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from orderlint.shift_plan import Plan
    from orderlint.shift_plan.estimates import Estimate

FIGURES = {
    "compliance at treat-above": "Compliance at the treat-above level",
    "volume to upper pause": "Volume from the treat-above level to the upper pause limit",
    "time to upper pause": (
        "Time from the treat-above level to the upper pause limit with outflow blocked, at the "
        "ordered rate and CSF formation"
    ),
    "time to upper pause at titration maximum": "The same at the titration maximum",
    "pressure after net-in volume": (
        "ICP that the net-in notify volume would make, retained from the treat-above level on"
    ),
    "rise with outflow blocked": (
        "Rise of ICP with the drain blocked for good, the ordered rate being absorbed, if "
        "irrigation did not pause"
    ),
    "steady state with outflow blocked": "ICP at which that would settle, if it did not pause",
    "head lost in tubing": "Head lost in the drain's tubing, CSF formation included",
}
"""What each figure is, by its kind."""
_BY_THE_INDEX = {"pressure after net-in volume"}
"""The pressures that come from the pressure–volume relation; the others come from absorption."""
_BEYOND = 100.0
"""In mmHg: far above what the pressure–volume relation was measured at, and any that is borne."""

FIGURE_LIMITS = (
    "These are figures, no verdict on the order or the patient. Pressure and volume: for a closed "
    "skull with the bone flap in place, by the pressure–volume index of seven adults, 25.9 mL "
    "(Shapiro, Marmarou, Shulman 1980, doi 10.1002/ana.410070603) as the average brain, and two "
    "standard deviations less, 18.5 mL, as the stiff one. A patient may lie outside both.",
    "Drain blocked for good: for normal outflow resistance, 6 to 10 mmHg per mL/min, and sinus "
    "pressure, 5 to 8 mmHg (AccessPediatrics, ICP chapter); neither is known for this patient. "
    "Tubing: 0.77 cmH2O at 40 mL/h, linear, from a model (PMC8239198, abstract only).",
)


def figure_value(figure: Estimate, value: float, display_unit: object) -> str:
    """A figure in its unit, and a pressure also in the unit displayed where that is cmH2O."""
    unit = figure.unit
    if unit == "mmHg" and value > _BEYOND:
        beyond = ", beyond what the pressure–volume relation was made for"
        return f"over 100 mmHg{beyond if figure.kind in _BY_THE_INDEX else ''}"
    words = f"about {_rounded(value)} {unit}"
    if unit == "mmHg" and display_unit == "cmH2O":
        ratio = TICKS["pressure"]["mmHg"] / TICKS["pressure"]["cmH2O"]
        words += f" ({_rounded(value * ratio)} cmH2O)"
    return words


def _rounded(value: float) -> str:
    """Two or three significant digits, and never more than two decimals."""
    places = 0 if value >= 100 else 1 if value >= 10 else 2
    return format_number(Fraction(f"{value:.{places}f}"))


def estimate_gaps(plan: Plan) -> Iterator[str]:
    """Why figures are left blank, as sentences."""
    leaves = plan.verified.order.leaves
    if plan.estimates.missing:
        missing = list_missing(plan.estimates.missing, leaves)
        yield f"Figures are left blank for lack of {missing}."
    if plan.estimates.reasons:
        yield f"Figures are left blank: {'; '.join(plan.estimates.reasons)}."
