"""What an order can hold in which little is found: each setting with texts to draw from."""

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
    "irrigation.bag_change_every": ("24 h", "daily"),
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
