"""Texts to draw from: sound ones, numbers at which rules turn, what is misread, other notations."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

SOUND: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "mmHg": {
        "pause.lower": ("2 mmHg", "0 mmHg"),
        "pause.upper": ("22 mmHg", "20 mmHg"),
        "treat_above": ("8 mmHg", "10 mmHg"),
        "drainage.height": ("5 mmHg", "6 mmHg"),
        "notify.icp_above": ("20 mmHg", "18 mmHg"),
        "notify.icp_below": ("3 mmHg", "4 mmHg"),
    },
    "cmH2O": {
        "pause.lower": ("2 cmH2O", "0 cmH2O"),
        "pause.upper": ("30 cmH2O", "28 cmH2O"),
        "treat_above": ("11 cmH2O", "14 cmH2O"),
        "drainage.height": ("7 cmH2O", "8 cmH2O"),
        "notify.icp_above": ("27 cmH2O", "24 cmH2O"),
        "notify.icp_below": ("4 cmH2O", "5 cmH2O"),
    },
}
SOUND_FOR_ALL: Mapping[str, tuple[str, ...]] = {
    "targets.map": ("90 mmHg", "95 mmHg"),
    "targets.cpp_min": ("60 mmHg", "65 mmHg"),
    "drainage.bag": ("700 mL", "1 L"),
    "notify.no_output_after": ("10 mL", "15 mL"),
    "notify.net_in.above": ("15 mL", "12 mL"),
    "notify.net_in.within": ("1 h", "60 min"),
    "notify.net_out.above": ("30 mL", "25 mL"),
    "notify.net_out.within": ("1 h", "30 min"),
    "monitoring.output_every": ("1 h", "hourly"),
    "patient.group": ("adult", "adult", "adult", "child", "infant"),
    "patient.vascular_lesion": ("none", "secured", "unsecured", "unknown"),
    "drainage.at_hourly_max": ("tell",),
    "transport.irrigation": ("off",),
    "transport.drain": ("clamp", "open"),
}
SOUND_IN_IRRIGATION: Mapping[str, tuple[str, ...]] = {
    "irrigation.rate": ("60 mL/h", "20 mL/h", "15 mL/h", "40 mL/h", "1 mL/min"),
    "irrigation.fluid": ("lactated Ringer's",),
    "irrigation.bag": ("1000 mL", "500 mL", "1 L"),
    "irrigation.bag_change_every": ("24 h", "daily", "120 h"),
    "irrigation.daily_max": ("2200 mL", "2.2 L"),
    "drainage.hourly_max": ("120 mL/h", "110 mL/h"),
    "titration.goal": ("clearing of the drained fluid",),
    "titration.step": ("10 mL/h", "5 mL/h"),
    "titration.every": ("2 h", "q4h"),
    "titration.max": ("90 mL/h", "80 mL/h", "30 mL/h"),
}
ADDITIVE = {
    "irrigation.additive.name": "demo antimicrobial",
    "irrigation.additive.concentration": "10 mg/L",
    "irrigation.additive.class": "antimicrobial",
}

# The numbers that the rulebook's pages and the limits of the schema name, by setting.
TURNS: Mapping[str, tuple[str, ...]] = {
    "pause.lower": ("0 mmHg", "99 mmHg", "-99 mmHg", "99 cmH2O", "-99 cmH2O", "-200 mmHg"),
    "pause.upper": (
        "15 mmHg", "20 mmHg", "22 mmHg", "27 mmHg", "30 mmHg", "34 mmHg", "99 mmHg", "-99 mmHg",
        "20 cmH2O", "22 cmH2O", "25 cmH2O", "30 cmH2O", "41 cmH2O", "99 cmH2O", "-99 cmH2O",
    ),
    "treat_above": (
        "0 mmHg", "5 mmHg", "15 mmHg", "99 mmHg", "-99 mmHg", "7 cmH2O", "15 cmH2O", "99 cmH2O",
        "-99 cmH2O", "200 mmHg",
    ),
    "drainage.height": ("0 cmH2O", "15 cmH2O"),
    "targets.map": ("50 mmHg", "130 mmHg", "49 mmHg", "131 mmHg"),
    "targets.cpp_min": ("60 mmHg", "70 mmHg", "40 mmHg", "100 mmHg"),
    "irrigation.rate": ("3 mL/h", "90 mL/h", "180 mL/h"),
    "drainage.hourly_max": ("0 mL/h", "30 mL/h", "2000 mL/h"),
    "titration.step": ("0 mL/h", "10 mL/h"),
    "titration.max": ("3 mL/h", "180 mL/h"),
    "irrigation.bag": ("0 mL", "500 mL", "1000 mL", "20 L"),
    "irrigation.daily_max": ("0 mL",),
    "drainage.bag": ("0 mL",),
    "notify.net_in.above": ("15 mL",),
    "notify.net_out.above": ("30 mL",),
    "notify.no_output_after": ("15 mL",),
    "notify.net_in.within": ("0 h", "1 h", "4 h"),
    "notify.net_out.within": ("0 h", "1 h", "4 h"),
    "titration.every": ("0 h", "30 min"),
    "monitoring.output_every": ("0 h", "1 h"),
    "irrigation.bag_change_every": ("0 h", "24 h", "96 h", "336 h"),
}  # fmt: skip
MISREAD: Mapping[str, tuple[object, ...]] = {
    "pressure": ("22 cm", "2 kPa", "22", 22, True, "22 mL", "201 mmHg", "272 cmH2O", "22.125 mmHg"),
    "flow": ("60", 60, "60 zz", "60 mL", "2001 mL/h", "-1 mL/h", "60.0001 mL/h", "1.4 L/day"),
    "volume": ("1000", "10 zz", "10 mmHg", "1000 L", "-1 mL", "10.0001 mL"),
    "duration": ("1", "1 zz", "1 mL", "337 h", "-1 h", "1.000001 h"),
}
UNSAFE = ("1e3 {}", "010 {}", "5. {}", "1_000 {}", "６０ {}", "2,5 {}", "5-8 {}", "+5 {}", "sixty")
NOTATIONS: Mapping[str, tuple[str, ...]] = {
    "pressure": (
        "22 mm Hg", "22 mmhg", "22 MMHG", "22 cm H2O", "3 cmh2o", "22.0 mmHg", "22mmHg", ".5 mmHg",
        "-.5 mmHg", "5.0", ".5", "20.50 cmH2O", "220mmhg", "10 cmH₂O",
    ),
    "flow": (
        "60 mL/hr", "60 ml/h", "60 cc/h", "60 cc/hr", "60 ML/h", "5.0 mL/h", "60mL/h", ".5 mL/min",
        "0.5 mL/min", "60ml/hr", "60zz", "60.0001ml/hr", "1,000 mL/h", "0 mL/min",
    ),
    "volume": ("1 l", "500 ml", "1000cc", "500 cc", "15.0 mL", "10mL", ".5 L", "1,000 mL", "0 L"),
    "duration": ("1 hour", "60 min", "3600 s", "1.0 h", "1h", ".5 h", "0 min"),
}  # fmt: skip
