"""Values of settings, in the spellings of wards on both sides of the Atlantic."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import random

_FLOW = ("mL/h",) * 4 + (
    "ml/h",
    "mL/hr",
    "ml/hr",
    "cc/hr",
    "mL/hour",
    "ml per hour",
    "mL an hour",
    "",
)
_PRESSURE = ("mmHg",) * 5 + ("mm Hg", "mmhg", "")
_HEIGHT = ("cmH2O",) * 4 + ("cm H2O", "cmH₂O", "mmHg", "cm", "")
_VOLUME = ("mL",) * 3 + ("ml", "cc", "mls")
_ANGLE = ("degrees", "degrees", "deg", "°", "")
_MINUTES = ("min", "min", "minutes", "mins")
_ADVERBS = ("q{n}h", "q{n}h", "q {n} h", "Q{n}H", "q{n}hr", "q{n}hrs", "q{n} hours", "every {n} h")
_ADVERBS += (
    "every {n} hours",
    "every {n} hr",
    "{n}-hourly",
    "{n} hourly",
    "q{m}min",
    "every {m} min",
)

CHOICES = {
    "access": (
        "right frontal EVD",
        "left frontal EVD",
        "R frontal EVD",
        "right ventricle",
        "L EVD",
    ),
    "irrigation.fluid": (
        "lactated Ringer's",
        "LR",
        "NS",
        "normal saline",
        "0.9% saline",
        "NaCl 0.9 %",
        "0.9% sodium chloride",
        "Ringer's lactate",
        "preservative-free saline",
    ),
    "drainage.landmark": (
        "tragus",
        "tragus",
        "EAM",
        "EAC",
        "external auditory meatus",
        "foramen of Monro",
    ),
}
QUANTITIES = {
    "irrigation.rate": ((10, 20, 30, 45, 60, 75, 90, 120, 7.5), _FLOW),
    "titration.step": ((5, 10, 15, 20), _FLOW),
    "titration.max": ((60, 90, 120, 180), _FLOW),
    "drainage.hourly_max": ((10, 15, 20, 25, 30, 120), _FLOW),
    "treat_above": ((5, 8, 10, 12, 15), _PRESSURE),
    "pause.lower": ((-5, 0, 2, 3), _PRESSURE),
    "pause.upper": ((20, 22, 25, 30), _PRESSURE),
    "notify.icp_above": ((20, 22, 25), _PRESSURE),
    "notify.icp_below": ((0, 2, 3, 5), _PRESSURE),
    "targets.cpp_min": ((50, 55, 60, 65, 70), _PRESSURE),
    "targets.map": ((80, 85, 90, 100), _PRESSURE),
    "drainage.height": ((-5, 0, 5, 10, 12, 15, 20), _HEIGHT),
    "position.head_up": ((0, 15, 20, 30, 45), _ANGLE),
    "irrigation.bag": ((250, 500, 1000, 3000), _VOLUME),
    "drainage.bag": ((350, 500, 600, 700), _VOLUME),
    "irrigation.daily_max": ((500, 1000, 2200, 2880), _VOLUME),
    "notify.no_output_after": ((5, 10, 20), _VOLUME),
    "notify.net_in.above": ((10, 15, 20), _VOLUME),
    "notify.net_out.above": ((20, 30, 40), _VOLUME),
    "notify.net_in.within": ((1, 2, 4), ("h", "hour", "hr")),
    "notify.net_out.within": ((1, 2, 4), ("h", "hour", "hr")),
    "notify.icp_for": ((5, 10, 15), _MINUTES),
    "during_pause.tell_within": ((10, 15, 30), _MINUTES),
    "transport.clamp_max": ((15, 20, 30, 45), _MINUTES),
    "patient.weight": ((3.2, 12, 54, 70, 82.5), ("kg", "kg", "kgs")),
}
INTERVALS = {
    "monitoring.icp_every": (1, 2),
    "monitoring.neuro_every": (1, 2, 4),
    "monitoring.output_every": (1, 2, 4),
    "monitoring.level_every": (2, 4, 8),
    "monitoring.zero_every": (8, 12),
    "irrigation.bag_change_every": (24, 48, 72),
    "titration.every": (1, 2, 4),
}


def drawn_value(rng: random.Random, path: str) -> str:
    """A value of that setting, as somebody would spell it."""
    if path in CHOICES:
        return rng.choice(CHOICES[path])
    if path in INTERVALS:
        return _interval(rng, rng.choice(INTERVALS[path]))
    numbers, units = QUANTITIES[path]
    unit = rng.choice(units)
    gap = "" if unit in {"°", ""} or rng.random() < 0.2 else " "
    return f"{rng.choice(numbers)}{gap}{unit}"


def _interval(rng: random.Random, hours: int) -> str:
    if hours == 1 and rng.random() < 0.4:
        return rng.choice(("hourly", "every hour"))
    return rng.choice(_ADVERBS if hours == 1 else _ADVERBS[:-2]).format(
        n=hours, m=rng.choice((15, 30))
    )
