"""The invented table of past orders in examples/: three units that nobody has, and their year.

Drawn with one seed. Run as a script this file writes it anew: `python tests/past_orders.py`.
"""

from __future__ import annotations

import csv
import io
import random
from datetime import datetime, timedelta
from pathlib import Path

WRITTEN = Path(__file__).resolve().parents[1] / "examples" / "past-orders.csv"
SEED = 2025
ORDERS = 240
UNITS = ("north", "south", "east")
SHARES = (45, 35, 20)
NEW_FORM = datetime.fromisoformat("2025-09-01T00:00:00+00:00")
"""From then on unit north writes on a form that has the drain at 12 cmH2O."""

# The heads are those of an export; what stands in every row is short.
SAME = {
    "ZONE": "Atlantic/Reykjavik",
    "GROUP": "adult",
    "LESION": "none",
    "ANTICOAG": "none",
    "BONE_FLAP": "in place",
    "THERAPY": "irrigation",
    "DISPLAY": "mmHg",
    "PAUSE_LOW": "2",
    "PAUSE_UNIT": "mmHg",
    "FLUID": "lactated Ringer's",
    "ADDITIVE": "none",
    "BAG": "1000 mL",
    "BAG_EVERY": "24 h",
    "DAILY_MAX": "2200",
    "LANDMARK": "tragus",
    "SCALE": "mmHg",
    "DRAIN_BAG": "700 mL",
    "AT_OUT_MAX": "tell",
    "ICP_EVERY": "1 h",
    "NEURO_EVERY": "1 h",
    "OUT_EVERY": "1 h",
    "HEAD_UP": "30 deg",
    "CALL_ABOVE": "20 mmHg",
    "CALL_FOR": "5 min",
    "CALL_BELOW": "3 mmHg",
    "NO_OUTPUT": "10 mL",
    "NET_IN": "15 mL",
    "NET_IN_H": "1 h",
    "NET_OUT": "30 mL",
    "NET_OUT_H": "1 h",
    "PAUSE_TELL": "15 min",
    "IMAGING": "yes",
    "OUTFLOW": "yes",
    "NEURO": "yes",
    "MAP": "90 mmHg",
    "CPP": "60 mmHg",
    "EVENTS": "leak, new colour",
    "STOP": "fluid clear on two checks",
    "INDICATION": "intraventricular haemorrhage",
}


def rows() -> list[dict[str, str]]:
    """The rows, the earliest order first."""
    draw = random.Random(SEED)
    start = datetime.fromisoformat("2025-01-01T06:00:00+00:00")
    minutes = sorted(draw.sample(range(0, 365 * 24 * 60, 5), ORDERS))
    return [
        _row(number, start + timedelta(minutes=after), draw)
        for number, after in enumerate(minutes, 1)
    ]


def _row(number: int, written: datetime, draw: random.Random) -> dict[str, str]:
    (unit,) = draw.choices(UNITS, SHARES)
    rate = draw.choice([20, 30, 40, 60])
    row = {
        "ORDER_NO": f"past-{number:04d}",
        "UNIT": unit,
        "WRITTEN": written.isoformat(),
        "STARTS": (written + timedelta(minutes=50)).isoformat(),
        "REVIEW_BY": (written + timedelta(hours=24)).isoformat(),
        "PRESCRIBER": f"attending {draw.randint(1, 9)}",
        "CALL": f"on call {unit}",
        "WEIGHT": f"{draw.randint(48, 104)} kg",
        "ACCESS": draw.choice(["right ventricle", "left ventricle"]),
        "PAUSE_HIGH": draw.choice(["20", "22", "22"]),
        "TREAT_ABOVE": draw.choice(["8 mmHg", "8 mmHg", "10 mmHg"]),
        "RATE": f"{rate} mL/h",
        "OUT_MAX": f"{rate + 40} mL/h",
        "HEIGHT": draw.choice(["3 mmHg", "4 mmHg", "5 mmHg"]),
        **SAME,
    }
    return {**row, **_slips(unit, written, draw)}


def _slips(unit: str, written: datetime, draw: random.Random) -> dict[str, str]:
    """What was written otherwise than meant, by the habits of each unit."""
    found: dict[str, str] = {}
    chance = draw.random
    if unit == "north" and written >= NEW_FORM and chance() < 0.8:
        found |= {"HEIGHT": "12 cmH2O", "TREAT_ABOVE": "8 mmHg", "SCALE": "cmH2O"}
    if unit == "east" and chance() < 0.3:
        found |= {"RATE": "30.0 mL/h"}
    if unit == "south" and chance() < 0.12:
        found |= {"RATE": draw.choice(["60", "60 /h"])}
    if chance() < 0.06:
        found |= {"STOP": "n/a"}
    if chance() < 0.04:
        found |= {"ANTICOAG": "unknown"}
    if chance() < 0.012:
        found |= {"PRESCRIBER": "attending\u202e 3"}
    return found


def text() -> str:
    """The whole file."""
    found = rows()
    stream = io.StringIO()
    writer = csv.DictWriter(stream, [*found[0]], lineterminator="\n")
    writer.writeheader()
    writer.writerows(found)
    return stream.getvalue()


if __name__ == "__main__":
    WRITTEN.write_text(text(), encoding="utf-8")
